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

/** Fills one form; tells what its list calls the panel, or nothing when the panel is not in its list. Where the form asks
 * for a piece of film, the tapped one is chosen, or the first on the panel. */
function fill(place, view, found, panel, piece) {
  const list = place.querySelector("select[name=panel]");
  const option = list && [...list.options].find((o) => o.value === panel);
  if (!option) return "";
  const values = found ? { view, x: found.x.toFixed(1), y: found.y.toFixed(1) } : {};
  for (const field of place.querySelectorAll("[data-spot]")) field.value = values[field.dataset.spot] ?? "";
  list.value = panel;
  const pieces = place.querySelector("select[name=piece]");
  if (!pieces) return option.textContent;
  const here = [...pieces.options].filter((o) => o.dataset.panel === panel);
  const chosen = here.find((o) => o.value === piece) ?? here[0];
  pieces.value = chosen?.value ?? "";
  return chosen ? chosen.textContent.trim() : option.textContent;
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

/** The panel and its view at a place of the window: lines and spots lie over the panels, what counts is the panel. */
function below(at) {
  const under = document.elementsFromPoint(at.clientX, at.clientY);
  const panel = under.map((e) => e.closest("svg [data-panel]")).find(Boolean);
  const group = panel?.closest("[data-view]");
  return group ? { panel, group, piece: panel.closest("[data-piece]")?.dataset.piece } : null;
}

/** Puts a spot where somebody tapped, or where the cross stands; tells the form that follows. */
function put(at) {
  const places = [...document.querySelectorAll("[data-place]")];
  const here = below(at);
  const found = here && spot(here.group, at);
  if (!found || places.length === 0) return false;
  const { panel, group, piece } = here;
  const svg = group.ownerSVGElement;
  mark(group, found.at, svg.viewBox.baseVal.width / Math.max(1, svg.getBoundingClientRect().width));
  const names = places.map((place) => fill(place, group.dataset.view, found, panel.dataset.panel, piece));
  say(svg, names);
  show(svg, places.filter((_, i) => names[i]));
  return places.find((_, i) => names[i]);
}

function say(svg, names) {
  const said = svg.closest("figure")?.querySelector(".tapped");
  const name = names.find(Boolean);
  if (said && name) said.textContent = `Spot on: ${name.toLowerCase()}.`;
}

document.addEventListener("click", (event) => {
  if (!event.target.closest?.("svg")) return;
  const link = event.target.closest("a");
  // A number on the drawing leads to its finding; a piece of film is tapped like a panel.
  if (link && !link.dataset.piece) return;
  if (link && event.detail === 0) {
    // By keyboard there is no spot: the piece as a whole is meant.
    const places = [...document.querySelectorAll("[data-place]")];
    const panel = link.querySelector("[data-panel]")?.dataset.panel;
    const names = places.map((place) => fill(place, "", null, panel, link.dataset.piece));
    if (!names.some(Boolean)) return;
    event.preventDefault();
    forget();
    say(link.ownerSVGElement, names);
    show(link.ownerSVGElement, places.filter((_, i) => names[i]));
    places.find((_, i) => names[i]).querySelector("select, input:not([type=hidden])")?.focus();
    return;
  }
  if (put(event)) {
    if (link) event.preventDefault();
  }
});

// With the keyboard a cross is moved over the drawing: arrows, with Shift in small steps; Enter puts the spot there.
const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
let cross = null;

function drop() {
  cross?.line.remove();
  cross = null;
}

function lift(svg) {
  drop();
  const line = document.createElementNS(NS, "path");
  line.setAttribute("class", "ln fat bl");
  line.setAttribute("data-cross", "");
  line.setAttribute("pointer-events", "none");
  const box = svg.viewBox.baseVal;
  cross = { svg, line, x: box.x + box.width / 2, y: box.y + box.height / 2 };
  svg.append(line);
  move(0, 0);
}

function move(dx, dy) {
  const { svg, line } = cross;
  const box = svg.viewBox.baseVal;
  const unit = box.width / Math.max(1, svg.getBoundingClientRect().width);
  const within = (value, from, size) => Math.max(from, Math.min(from + size, value));
  cross.x = within(cross.x + dx * unit, box.x, box.width);
  cross.y = within(cross.y + dy * unit, box.y, box.height);
  const arm = 16 * unit;
  line.setAttribute("d", `M${cross.x - arm} ${cross.y}h${2 * arm}M${cross.x} ${cross.y - arm}v${2 * arm}`);
  const rect = line.getBoundingClientRect();
  if (rect.top < 8 || rect.bottom > innerHeight - 8) scrollBy({ top: rect.top - innerHeight / 2 });
  const here = below(crossing());
  const said = svg.closest("figure")?.querySelector(".tapped");
  const name = here?.panel.dataset.panel.replaceAll("_", " ");
  if (said) said.textContent = name ? `Over: ${name}. Enter puts the spot here.` : "Over no panel.";
}

/** The cross as a place of the window. */
function crossing() {
  const at = new DOMPoint(cross.x, cross.y).matrixTransform(cross.svg.getScreenCTM());
  return { clientX: at.x, clientY: at.y };
}

for (const button of document.querySelectorAll("[data-keys]")) button.hidden = false;

document.addEventListener("click", (event) => {
  const button = event.target.closest?.("[data-keys]");
  if (!button) return;
  // The drawing that is shown: the sheet, or on a phone its first view.
  const svg = [...button.closest("figure").querySelectorAll("svg")].find(
    (s) => s.querySelector("[data-view]") && s.getBoundingClientRect().width > 0,
  );
  if (svg) lift(svg);
});

document.addEventListener("keydown", (event) => {
  const button = event.target.closest?.("[data-keys]");
  if (!button || !cross || event.ctrlKey || event.metaKey || event.altKey) return;
  const step = STEPS[event.key];
  if (step) move(step[0] * (event.shiftKey ? 3 : 15), step[1] * (event.shiftKey ? 3 : 15));
  else if (event.key === "Escape") drop();
  else if (event.key === "Enter") {
    const place = put(crossing());
    if (place) {
      drop();
      place.querySelector("select, input:not([type=hidden])")?.focus();
    }
  } else return;
  event.preventDefault();
});

document.addEventListener("focusout", (event) => event.target.closest?.("[data-keys]") && drop());

// Choosing another panel from the list takes back the tapped place of that form.
document.addEventListener("change", (event) => {
  const list = event.target;
  if (!(list instanceof HTMLSelectElement) || !["panel", "piece"].includes(list.name)) return;
  const place = list.closest("[data-place]");
  place?.querySelectorAll("[data-spot]").forEach((field) => (field.value = ""));
  // A piece lies on its panel; another panel has other pieces.
  const [panels, pieces] = [place?.querySelector("select[name=panel]"), place?.querySelector("select[name=piece]")];
  if (panels && pieces) {
    const panel = pieces.selectedOptions[0]?.dataset.panel;
    if (list === pieces && panel) panels.value = panel;
    if (list === panels && panel && panel !== panels.value) pieces.value = "";
  }
  forget();
});

// A text to be taken along: copied where the browser allows it, else chosen for copying.
for (const button of document.querySelectorAll("[data-copy]")) button.hidden = false;
document.addEventListener("click", async (event) => {
  const button = event.target.closest?.("[data-copy]");
  const field = button && document.getElementById(button.dataset.copy);
  if (!field) return;
  field.select();
  let copied = false;
  try {
    await navigator.clipboard.writeText(field.value);
    copied = true;
  } catch {
    copied = document.execCommand("copy");
  }
  button.textContent = copied ? "Copied" : "Chosen: copy it now";
});

// A link to what lies behind a fold opens it.
function unfold() {
  const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const inner = target && (target.matches("details") ? target : target.closest("details"));
  const fold = inner ?? (target && "unfold" in target.dataset ? target.querySelector("details") : null);
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
