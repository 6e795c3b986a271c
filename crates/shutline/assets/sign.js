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
  for (const end of ["pointerup", "pointercancel"]) svg.addEventListener(end, () => (drawing = null));
  clear.addEventListener("click", () => {
    strokes.length = 0;
    show();
  });
}
