// A tap on the drawing of a car fills view, x and y (mm on the upright view) and the panel of the forms on the page.
// Without this module the forms work by their lists of panels.

const NS = "http://www.w3.org/2000/svg";

for (const figure of document.querySelectorAll("figure.tap")) {
  figure.addEventListener("click", (event) => {
    if (event.target.closest("a")) return;
    const svg = event.target.closest("svg");
    const path = event.target.closest("[data-panel]");
    const view = path?.closest("[data-view]");
    if (!svg || !view) return;
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    const [a, b, c, d, e, f] = view.dataset.upright.split(" ").map(Number);
    const spot = {
      view: view.dataset.view,
      x: (a * at.x + c * at.y + e).toFixed(1),
      y: (b * at.x + d * at.y + f).toFixed(1),
    };
    mark(svg, at);
    const name = fill(spot, path.dataset.panel);
    const said = figure.querySelector(".tapped");
    if (said) said.textContent = name ? `Spot on: ${name}.` : "Spot taken.";
    show(figure);
  });
}

// Whoever chooses another panel from the list means the panel, not the spot.
for (const select of document.querySelectorAll('[data-place] select[name="panel"]')) {
  select.addEventListener("change", () => {
    for (const field of select.closest("[data-place]").querySelectorAll("[data-spot]")) field.value = "";
    for (const old of document.querySelectorAll(".spot-mark")) old.remove();
  });
}

function mark(svg, at) {
  for (const old of document.querySelectorAll(".spot-mark")) old.remove();
  const box = svg.viewBox.baseVal;
  const px = box.width / svg.getBoundingClientRect().width;
  const ring = document.createElementNS(NS, "circle");
  ring.setAttribute("class", "ln bl fat spot-mark");
  ring.setAttribute("cx", at.x);
  ring.setAttribute("cy", at.y);
  ring.setAttribute("r", 11 * px);
  const dot = ring.cloneNode();
  dot.setAttribute("class", "solidb spot-mark");
  dot.setAttribute("r", 3 * px);
  svg.append(ring, dot);
}

function fill(spot, panel) {
  let name = "";
  for (const part of document.querySelectorAll("[data-place]")) {
    const select = part.querySelector('select[name="panel"]');
    const option = select && [...select.options].find((o) => o.value === panel);
    if (!option) continue;
    select.value = panel;
    name = option.textContent;
    for (const field of part.querySelectorAll("[data-spot]")) field.value = spot[field.dataset.spot];
  }
  return name;
}

// Opens the form that follows the drawing, unless one that takes a spot is open already.
function show(figure) {
  const parts = [...document.querySelectorAll("[data-place]")];
  const open = parts.some((p) => !p.closest("details:not([open])"));
  if (open) return;
  const next = parts.find((p) => figure.compareDocumentPosition(p) & Node.DOCUMENT_POSITION_FOLLOWING);
  const fold = next?.closest("details");
  if (!fold) return;
  fold.open = true;
  fold.scrollIntoView({ block: "nearest" });
}

// Links to what lies behind a fold open it.
function unfold() {
  const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const fold = target && (target.closest("details") ?? target.querySelector(":scope > details.more:only-of-type"));
  if (!fold || fold.open) return;
  fold.open = true;
  target.scrollIntoView();
}
addEventListener("hashchange", unfold);
unfold();
