// The film sheet: a bar that follows a search, and pieces that are dragged. Without this module the page says how the
// search stands when it is loaded again, and pieces are moved by numbers.

// A search: its bar moves, its end loads the page anew.
for (const place of document.querySelectorAll("[data-search]")) {
  const source = new EventSource(place.dataset.search);
  source.addEventListener("progress", (event) => {
    const { done, note } = JSON.parse(event.data);
    place.querySelector("progress").value = done;
    place.querySelector("[data-note]").textContent = note;
  });
  source.addEventListener("end", () => {
    source.close();
    location.hash = place.dataset.back ?? "search";
    location.reload();
  });
  addEventListener("pagehide", () => source.close());
}

const hand = document.querySelector("[data-hand]");
const svg = hand?.querySelector("svg");
const said = hand?.querySelector("[data-said]");
const form = hand?.querySelector("form");
/** Moves kept so far, by piece; the server has found each of them sound after those before it. */
const moves = new Map();
let chosen = null;
let drag = null;
let asking = Promise.resolve();

const key = (piece) => `${piece.dataset.copy} ${piece.dataset.piece}`;
const number = (piece, name) => Number(piece.dataset[name]);

/** Where a piece lies, as the server writes it. */
function place(piece) {
  return {
    piece: piece.dataset.piece,
    copy: number(piece, "copy"),
    container: piece.closest("[data-container]").dataset.container,
    x_mm: number(piece, "x"),
    y_mm: number(piece, "y"),
    degrees: number(piece, "degrees"),
    mirrored: piece.dataset.mirrored === "true",
  };
}

/** Draws a piece at a pose; it was drawn at the pose that it came with. */
function draw(piece, at) {
  piece.start ??= { x: number(piece, "x"), y: number(piece, "y"), degrees: number(piece, "degrees") };
  const { x, y, degrees } = piece.start;
  piece.setAttribute(
    "transform",
    `translate(${at.x_mm} ${at.y_mm}) rotate(${at.degrees - degrees}) translate(${-x} ${-y})`,
  );
}

function keep(piece, at) {
  const sheet = [...svg.querySelectorAll("[data-container]")].find((s) => s.dataset.container === at.container);
  if (sheet && sheet !== piece.parentNode) {
    sheet.append(piece);
    if (chosen === piece) piece.focus();
  }
  piece.dataset.x = at.x_mm;
  piece.dataset.y = at.y_mm;
  piece.dataset.degrees = at.degrees;
  draw(piece, at);
  moves.delete(key(piece));
  moves.set(key(piece), at);
  form.elements.moves.value = JSON.stringify([...moves.values()]);
}

/** Asks the server where a dropped piece comes to lie; it goes back where it was when it cannot lie there. */
function ask(piece, wanted) {
  asking = asking.then(async () => {
    const before = place(piece);
    const others = [...moves.entries()].filter(([k]) => k !== key(piece)).map(([, at]) => at);
    try {
      const answer = await fetch(hand.dataset.hand, {
        method: "POST",
        body: new URLSearchParams({ moves: JSON.stringify([...others, wanted]) }),
      });
      const { ok, place: at, said: words } = await answer.json();
      if (ok) keep(piece, at);
      else draw(piece, before);
      said.textContent = words;
    } catch {
      draw(piece, before);
      said.textContent = "The program did not answer: the piece is back where it was.";
    }
  });
}

function choose(piece) {
  chosen?.classList.remove("chosen");
  chosen = piece;
  chosen?.classList.add("chosen");
}

/** Turned about the middle of its corners. */
function turned(piece, by) {
  const at = place(piece);
  piece.start ??= { x: at.x_mm, y: at.y_mm, degrees: at.degrees };
  const back = ((at.degrees - piece.start.degrees) * Math.PI) / 180;
  const [ox, oy] = [number(piece, "cx") - piece.start.x, number(piece, "cy") - piece.start.y];
  const cx = at.x_mm + ox * Math.cos(back) - oy * Math.sin(back);
  const cy = at.y_mm + ox * Math.sin(back) + oy * Math.cos(back);
  const angle = (by * Math.PI) / 180;
  const [dx, dy] = [at.x_mm - cx, at.y_mm - cy];
  return {
    ...at,
    x_mm: cx + dx * Math.cos(angle) - dy * Math.sin(angle),
    y_mm: cy + dx * Math.sin(angle) + dy * Math.cos(angle),
    degrees: (at.degrees + by + 360) % 360,
  };
}

function lock(piece) {
  const tick = [...form.querySelectorAll("input[name=locked]")].find((t) => t.value === key(piece));
  if (!tick) return;
  tick.checked = !tick.checked;
  piece.classList.toggle("locked", tick.checked);
  said.textContent = tick.checked ? "Locked." : "Unlocked.";
}

/** A point of the screen in millimeters of the drawing. */
function point(event) {
  const matrix = svg.getScreenCTM();
  return new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
}

svg?.addEventListener("pointerdown", (event) => {
  const piece = event.target.closest(".piece");
  if (!piece || event.button !== 0) return;
  choose(piece);
  const from = point(event);
  drag = { piece, from, at: place(piece), moved: false };
  svg.setPointerCapture(event.pointerId);
  event.preventDefault();
  piece.focus({ preventScroll: true });
});

svg?.addEventListener("pointermove", (event) => {
  if (!drag) return;
  const to = point(event);
  const [dx, dy] = [to.x - drag.from.x, to.y - drag.from.y];
  drag.moved ||= Math.hypot(dx, dy) > 6;
  drag.to = { ...drag.at, x_mm: drag.at.x_mm + dx, y_mm: drag.at.y_mm + dy };
  drag.point = to;
  if (drag.moved) draw(drag.piece, drag.to);
});

svg?.addEventListener("pointerup", () => {
  const done = drag;
  drag = null;
  if (!done?.moved) return;
  // Dropped on another sheet: its place is counted from there.
  const own = done.piece.closest("[data-container]");
  const over = [...svg.querySelectorAll("[data-container]")].find((s) => {
    const top = Number(s.dataset.top);
    return done.point.y >= top && done.point.y <= top + Number(s.dataset.width);
  });
  const wanted = { ...done.to };
  if (over && over !== own) {
    wanted.container = over.dataset.container;
    wanted.y_mm += Number(own.dataset.top) - Number(over.dataset.top);
  }
  ask(done.piece, wanted);
});

// Not every browser heeds touch-action inside a drawing: without this a finger scrolls and the drag is cancelled.
svg?.addEventListener("touchmove", (event) => drag && event.preventDefault(), { passive: false });

svg?.addEventListener("pointercancel", () => {
  if (drag) draw(drag.piece, drag.at);
  drag = null;
});

svg?.addEventListener("focusin", (event) => {
  const piece = event.target.closest(".piece");
  if (piece) choose(piece);
});

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

svg?.addEventListener("keydown", (event) => {
  const piece = event.target.closest(".piece");
  if (!piece || event.ctrlKey || event.metaKey || event.altKey) return;
  const arrow = ARROWS[event.key];
  if (arrow) {
    // Farther than what a piece is pulled up by, so that it comes loose.
    const step = 25;
    const at = place(piece);
    ask(piece, { ...at, x_mm: at.x_mm + arrow[0] * step, y_mm: at.y_mm + arrow[1] * step });
  } else if (event.key.toLowerCase() === "r") ask(piece, turned(piece, event.shiftKey ? -15 : 15));
  else if (event.key.toLowerCase() === "l") lock(piece);
  else return;
  event.preventDefault();
});

hand?.addEventListener("click", (event) => {
  const button = event.target.closest("button[type=button]");
  if (!button) return;
  if (!chosen) said.textContent = "Choose a piece first.";
  else if (button.dataset.turn) ask(chosen, turned(chosen, Number(button.dataset.turn)));
  else lock(chosen);
});

form?.addEventListener("change", (event) => {
  const tick = event.target;
  if (tick.name !== "locked") return;
  const piece = [...svg.querySelectorAll(".piece")].find((p) => key(p) === tick.value);
  piece?.classList.toggle("locked", tick.checked);
});

for (const part of document.querySelectorAll("[data-scripted]")) part.hidden = false;
