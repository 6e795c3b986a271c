// Moving entries of the calendar by finger or mouse. A bar [data-entry="job step"] is dragged along the time axis and
// from bay to bay; let go, the page opens that shows what the move would do; nothing is kept by dragging. Dropped on
// another entry, the two change places. Without this module a tap on the entry leads to forms that do the same.
const STEP = 15; // minutes to which a drop snaps
const SLOP = 8; // px of movement before a tap becomes a drag

let drag = null;

function place(svg, event) {
  const matrix = svg.getScreenCTM();
  return matrix ? new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse()) : null;
}

/** Minutes since midnight of the first day at a place across. */
function minutes(axis, x) {
  for (let i = 2; i < axis.length; i += 2) {
    if (x <= axis[i + 1]) {
      const [t0, x0, t1, x1] = axis.slice(i - 2, i + 2);
      return t0 + ((t1 - t0) * Math.max(0, x - x0)) / Math.max(1, x1 - x0);
    }
  }
  return axis.at(-2);
}

function bay(svg, y) {
  const rows = [...svg.querySelectorAll("[data-bay]")];
  return rows.find((r) => y >= Number(r.dataset.top) && y < Number(r.dataset.bottom))?.dataset.bay;
}

function clock(first, total) {
  const day = new Date(`${first}T00:00:00Z`);
  day.setUTCMinutes(Math.round(total / STEP) * STEP);
  return day.toISOString().slice(0, 16);
}

document.addEventListener("pointerdown", (event) => {
  const bar = event.target.closest?.("[data-entry]");
  const svg = bar?.ownerSVGElement;
  const axis = svg?.querySelector("[data-axis]");
  if (!axis || event.button > 0 || !svg.closest("[data-first]")) return;
  const at = place(svg, event);
  if (!at) return;
  drag = { bar, svg, at, from: [event.clientX, event.clientY], moved: false, id: event.pointerId };
});

document.addEventListener("pointermove", (event) => {
  if (!drag || event.pointerId !== drag.id) return;
  const far = Math.hypot(event.clientX - drag.from[0], event.clientY - drag.from[1]);
  if (!drag.moved && far < SLOP) return;
  if (!drag.moved) {
    drag.moved = true;
    drag.bar.setPointerCapture?.(event.pointerId);
    drag.bar.classList.add("lifted");
  }
  const now = place(drag.svg, event);
  drag.bar.setAttribute("transform", `translate(${now.x - drag.at.x} ${now.y - drag.at.y})`);
  event.preventDefault();
});

function settle() {
  drag?.bar.removeAttribute("transform");
  drag?.bar.classList.remove("lifted");
  const done = drag;
  drag = null;
  return done;
}

document.addEventListener("pointerup", (event) => {
  if (!drag || event.pointerId !== drag.id) return;
  const { bar, svg, at, moved } = settle();
  if (!moved) return;
  const now = place(svg, event);
  // The browser follows the link under the bar after a drag: not here.
  addEventListener("click", (e) => e.preventDefault(), { capture: true, once: true });
  const [job, step] = bar.dataset.entry.split(" ");
  const under = document.elementsFromPoint(event.clientX, event.clientY);
  const other = under.map((e) => e.closest?.("[data-entry]")).find((e) => e && e !== bar);
  const ask = new URLSearchParams({ job, step });
  if (other) {
    ask.set("act", "swap");
    ask.set("other", other.dataset.entry);
  } else {
    const axis = svg.querySelector("[data-axis]").dataset.axis.split(" ").map(Number);
    const start = Number(bar.getAttribute("x")) + now.x - at.x;
    ask.set("act", "put");
    ask.set("at", clock(svg.closest("[data-first]").dataset.first, minutes(axis, start)));
    ask.set("bay", bay(svg, now.y) ?? "");
  }
  location.assign(`/calendar/try?${ask}`);
});

// Not every browser heeds touch-action inside a drawing: without this a finger scrolls and the drag is cancelled.
document.addEventListener("touchmove", (event) => drag && event.preventDefault(), { passive: false });
document.addEventListener("pointercancel", settle);
document.addEventListener("keydown", (event) => event.key === "Escape" && settle());
document.addEventListener("dragstart", (event) => event.target.closest?.("[data-first]") && event.preventDefault());
