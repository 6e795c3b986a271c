// A signature drawn by finger, pen or mouse, kept as strokes of points. Without this module the name stands alone.
const [WIDE, HIGH] = [1000, 250];

for (const field of document.querySelectorAll("[data-sign]")) {
  const hidden = field.querySelector("input");
  const svg = field.querySelector("svg");
  const clear = field.querySelector("button");
  const strokes = [];
  let drawing = null;
  field.hidden = false;

  const at = (event) => {
    const box = svg.getBoundingClientRect();
    const limit = (value, most) => Math.max(0, Math.min(most, Math.round(value)));
    return [
      limit(((event.clientX - box.left) / box.width) * WIDE, WIDE),
      limit(((event.clientY - box.top) / box.height) * HIGH, HIGH),
    ];
  };
  const path = (stroke) =>
    stroke.map(([x, y], i) => `${i ? "L" : "M"}${x} ${y}`).join("") + (stroke.length === 1 ? "h1" : "");
  const show = () => {
    svg.querySelector("path").setAttribute("d", strokes.map(path).join(""));
    hidden.value = strokes.length ? JSON.stringify(strokes) : "";
    clear.hidden = strokes.length === 0;
  };

  svg.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    svg.setPointerCapture(event.pointerId);
    drawing = [at(event)];
    strokes.push(drawing);
    show();
  });
  svg.addEventListener("pointermove", (event) => {
    if (!drawing) return;
    const [x, y] = at(event);
    const [px, py] = drawing.at(-1);
    if (Math.hypot(x - px, y - py) < 3) return;
    drawing.push([x, y]);
    show();
  });
  // With the keyboard the pen is moved by arrows; Space sets it down and lifts it.
  const pen = { x: WIDE / 8, y: HIGH / 2, down: false };
  const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  const tip = document.createElementNS("http://www.w3.org/2000/svg", "circle");
  tip.setAttribute("r", "9");
  tip.setAttribute("class", "tip");
  const point = () => {
    tip.setAttribute("cx", pen.x);
    tip.setAttribute("cy", pen.y);
    tip.classList.toggle("down", pen.down);
  };
  svg.tabIndex = 0;
  svg.setAttribute("role", "application");
  svg.addEventListener("focus", () => svg.matches(":focus-visible") && (svg.append(tip), point()));
  svg.addEventListener("blur", () => ((pen.down = false), tip.remove()));
  svg.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    if (event.key === " ") {
      pen.down = !pen.down;
      if (pen.down) {
        strokes.push([[pen.x, pen.y]]);
        show();
      }
    } else if (arrow) {
      const step = event.shiftKey ? 40 : 12;
      pen.x = Math.max(0, Math.min(WIDE, pen.x + arrow[0] * step));
      pen.y = Math.max(0, Math.min(HIGH, pen.y + arrow[1] * step));
      if (pen.down) {
        strokes.at(-1).push([pen.x, pen.y]);
        show();
      }
    } else return;
    svg.append(tip);
    point();
    event.preventDefault();
  });

  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, () => (drawing = null));
  clear.addEventListener("click", () => {
    strokes.length = 0;
    show();
  });
}
