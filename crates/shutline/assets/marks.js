// A ring or an arrow drawn on a picture by finger, pen, mouse or keyboard. What is drawn stands in the form's fields, in
// percent; typing there draws too. Without this module the fields are filled by hand.
const STEP = 1;
const RING = 6;
const ARROW = 12;
const NAMES = ["x", "y", "r", "to_x", "to_y"];
const SVG = "http://www.w3.org/2000/svg";

function begin() {
  const place = document.querySelector("[data-marking]:not([data-ready])");
  if (!place) return;
  place.dataset.ready = "1";
  const tall = Number(place.dataset.tall);
  const form = place.querySelector("form#mark");
  const said = form.querySelector("[data-said]");
  const field = (name) => form.elements[name];
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("viewBox", `0 0 1000 ${tall}`);
  svg.setAttribute("class", "draft");
  svg.setAttribute("role", "application");
  place.querySelector("figure .shot").append(svg);
  form.querySelector("[data-how]").hidden = false;
  let drag = null;

  const shape = () => form.querySelector("[name=shape]:checked")?.value ?? "";
  const value = (name) => (field(name).value.trim() === "" ? NaN : Number(field(name).value.replace(",", ".")));
  const limit = (v, most = 100) => Math.max(0, Math.min(most, v));
  const set = (values) => {
    for (const [name, v] of Object.entries(values)) field(name).value = String(Math.round(limit(v) * 10) / 10);
  };
  const drawn = () => {
    const needed = shape() === "ring" ? ["x", "y", "r"] : ["x", "y", "to_x", "to_y"];
    return shape() !== "" && needed.every((n) => Number.isFinite(value(n)));
  };

  // The vectors as the server draws them: dark lines with a light rim.
  function show(tell = true) {
    svg.replaceChildren();
    svg.toggleAttribute("data-tool", shape() !== "");
    if (shape()) svg.setAttribute("tabindex", "0");
    else svg.removeAttribute("tabindex");
    const at = (name) => (value(name) / 100) * (name.endsWith("y") ? tall : 1000);
    let words = shape() ? "Tap or drag on the picture." : "";
    if (drawn()) {
      let d;
      if (shape() === "ring") {
        const [x, y, r] = [at("x"), at("y"), at("r")];
        d = `M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;
        words = `Ring ${field("x").value} % across, ${field("y").value} % down, radius ${field("r").value} %.`;
      } else {
        const [x, y, tx, ty] = [at("x"), at("y"), at("to_x"), at("to_y")];
        const along = Math.atan2(ty - y, tx - x) + Math.PI;
        const long = Math.min(45, Math.hypot(tx - x, ty - y) * 0.5);
        const end = (turn) => `${tx + long * Math.cos(along + turn)} ${ty + long * Math.sin(along + turn)}`;
        d = `M${x} ${y}L${tx} ${ty}M${end(0.5)}L${tx} ${ty}L${end(-0.5)}`;
        words = `Arrow to ${field("to_x").value} % across, ${field("to_y").value} % down.`;
      }
      for (const light of ["rim", "line"]) {
        const path = document.createElementNS(SVG, "path");
        path.setAttribute("class", light);
        path.setAttribute("d", d);
        svg.append(path);
      }
    }
    svg.setAttribute("aria-label", `${words || "The picture."} Arrow keys move the mark, plus and minus size it, Delete takes it away.`);
    if (tell) said.textContent = words;
  }

  function clear() {
    for (const name of NAMES) field(name).value = "";
    form.querySelectorAll("[name=shape]").forEach((r) => (r.checked = false));
    show();
    said.textContent = "Taken away.";
  }

  /** In the middle, when nothing is drawn yet: from there it is moved. */
  function middle() {
    if (shape() === "ring") {
      if (!drawn()) set({ x: 50, y: 50, r: RING });
    } else if (!drawn()) {
      set({ x: 50 - ARROW, y: 50 - (ARROW * 1000) / tall, to_x: 50, to_y: 50 });
    }
    show();
  }

  function spot(event) {
    const box = svg.getBoundingClientRect();
    return [limit((100 * (event.clientX - box.left)) / box.width), limit((100 * (event.clientY - box.top)) / box.height)];
  }

  svg.addEventListener("pointerdown", (event) => {
    if (!shape()) return;
    event.preventDefault();
    svg.setPointerCapture(event.pointerId);
    svg.focus();
    drag = spot(event);
    const [x, y] = drag;
    // A tap alone makes a ring around the spot, or an arrow that points to it.
    if (shape() === "ring") set({ x, y, r: RING });
    else set({ x: x > ARROW ? x - ARROW : x + ARROW, y: y > 20 ? y - ARROW : y + ARROW, to_x: x, to_y: y });
    show(false);
  });
  svg.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const [x, y] = spot(event);
    const [across, down] = [x - drag[0], ((y - drag[1]) * tall) / 1000];
    const far = Math.hypot(across, down);
    if (far < 2) return;
    // A ring grows from its middle; an arrow is drawn from its beginning to its point.
    if (shape() === "ring") set({ r: far });
    else set({ x: drag[0], y: drag[1], to_x: x, to_y: y });
    show(false);
  });
  for (const end of ["pointerup", "pointercancel"]) {
    svg.addEventListener(end, () => {
      if (drag) show();
      drag = null;
    });
  }

  svg.addEventListener("keydown", (event) => {
    if (!shape()) return;
    const step = event.shiftKey ? 5 * STEP : STEP;
    const ways = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    if (ways[event.key]) {
      const [across, down] = ways[event.key];
      const pairs = shape() === "ring" ? [["x", "y"]] : [["x", "y"], ["to_x", "to_y"]];
      // The whole mark stays on the picture.
      if (pairs.every(([x, y]) => limit(value(x) + across) === value(x) + across && limit(value(y) + down) === value(y) + down)) {
        pairs.forEach(([x, y]) => set({ [x]: value(x) + across, [y]: value(y) + down }));
      }
    } else if (["+", "=", "-", "−"].includes(event.key)) {
      const by = event.key === "+" || event.key === "=" ? 1.15 : 1 / 1.15;
      if (shape() === "ring") set({ r: Math.max(1, value("r") * by) });
      else set({ x: value("to_x") + (value("x") - value("to_x")) * by, y: value("to_y") + (value("y") - value("to_y")) * by });
    } else if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      clear();
      form.querySelector("[name=shape]").focus();
      return;
    } else return;
    event.preventDefault();
    show();
  });
  form.addEventListener("change", (event) => event.target.name === "shape" && middle());
  form.addEventListener("input", (event) => NAMES.includes(event.target.name) && show());
  form.addEventListener("reset", () => setTimeout(show));
  show(false);
}

begin();
document.addEventListener("renewed", begin);
