// Tapping a place on a drawing of the car fills the forms that want a place: the hidden fields [data-spot=view|x|y]
// inside [data-place] get the view and millimeters of the car, from which the server tells panel and spot, and the
// list of panels follows. Without this module the list alone does the same for whole panels.
//
// Groups of the drawing carry data-view and, on a full sheet, data-upright: a b c d e f take a place on the sheet to
// the upright view.
const NS = "http://www.w3.org/2000/svg";

function spot(group, event) {
  const matrix = group.getScreenCTM();
  if (!matrix) return null;
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  const m = (group.dataset.upright ?? "1 0 0 1 0 0").trim().split(/[\s,]+/).map(Number);
  if (m.length !== 6 || m.some(Number.isNaN)) return null;
  return { at, x: m[0] * at.x + m[2] * at.y + m[4], y: m[1] * at.x + m[3] * at.y + m[5] };
}

function forget() {
  document.querySelectorAll("[data-here]").forEach((old) => old.remove());
}

function mark(group, at, unit) {
  forget();
  const here = document.createElementNS(NS, "g");
  here.setAttribute("data-here", "");
  for (const [r, name] of [[14 * unit, "ln fat bl"], [2.5 * unit, "solidb"]]) {
    const ring = document.createElementNS(NS, "circle");
    ring.setAttribute("cx", at.x);
    ring.setAttribute("cy", at.y);
    ring.setAttribute("r", r);
    ring.setAttribute("class", name);
    here.append(ring);
  }
  group.append(here);
}

/** Fills one form; tells what its list calls the panel, or nothing when the panel is not in its list. */
function fill(place, view, found, panel) {
  const list = place.querySelector("select[name=panel]");
  const option = list && [...list.options].find((o) => o.value === panel);
  if (!option) return "";
  const values = { view, x: found.x.toFixed(1), y: found.y.toFixed(1) };
  for (const field of place.querySelectorAll("[data-spot]")) field.value = values[field.dataset.spot] ?? "";
  list.value = panel;
  return option.textContent;
}

/** Opens the form that follows the drawing, unless one that wants a place is open already. */
function show(drawing, places) {
  const shut = (p) => p.closest("details:not([open])");
  const next =
    places.find((p) => !shut(p)) ??
    places.find((p) => drawing.compareDocumentPosition(p) & Node.DOCUMENT_POSITION_FOLLOWING);
  if (!next) return;
  shut(next)?.setAttribute("open", "");
  next.scrollIntoView({ block: "nearest", behavior: "smooth" });
}

document.addEventListener("click", (event) => {
  // Lines and the spots of findings lie over the panels: what counts is the panel below the finger.
  const under = event.target.closest?.("svg") ? document.elementsFromPoint(event.clientX, event.clientY) : [];
  const panel = under.map((e) => e.closest("svg [data-panel]")).find(Boolean);
  const group = panel?.closest("[data-view]");
  const places = [...document.querySelectorAll("[data-place]")];
  // A number on the drawing leads to its finding.
  if (!panel || !group || places.length === 0 || event.target.closest("a")) return;
  const found = spot(group, event);
  if (!found) return;
  const svg = group.ownerSVGElement;
  mark(group, found.at, svg.viewBox.baseVal.width / Math.max(1, svg.getBoundingClientRect().width));
  const names = places.map((place) => fill(place, group.dataset.view, found, panel.dataset.panel));
  const said = svg.closest("figure")?.querySelector(".tapped");
  const name = names.find(Boolean);
  if (said && name) said.textContent = `Spot on: ${name.toLowerCase()}.`;
  show(svg, places.filter((_, i) => names[i]));
});

// Choosing another panel from the list takes back the tapped place of that form.
document.addEventListener("change", (event) => {
  const list = event.target;
  if (!(list instanceof HTMLSelectElement) || list.name !== "panel") return;
  list.closest("[data-place]")?.querySelectorAll("[data-spot]").forEach((field) => (field.value = ""));
  forget();
});

// A link to what lies behind a fold opens it.
function unfold() {
  const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const fold = target && (target.matches("details") ? target : target.closest("details"));
  if (!fold || fold.open) return;
  fold.setAttribute("open", "");
  target.scrollIntoView();
}
addEventListener("hashchange", unfold);
unfold();

// On a narrow screen the line of stages begins at the stage that is open.
const line = document.querySelector(".stages");
const here = line?.querySelector("[aria-current]");
if (here && line.scrollWidth > line.clientWidth) {
  line.scrollLeft = here.offsetLeft - line.offsetLeft - line.clientWidth / 3;
}
