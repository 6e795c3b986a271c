// The price of a meter of seam in sight: a slider whose effect is seen at once. All choices stand on the page with their
// money now, later, and their length in sight; the cheapest at a price needs no search. Without this module the form asks
// the server.
const place = document.querySelector("[data-sides]");
const slider = place?.querySelector("input[type=range]");

function show() {
  const worth = Number(slider.value);
  place.querySelector("[data-worth]").textContent = slider.value;
  let best = null;
  for (const row of place.querySelectorAll("tr[data-install]")) {
    const { install, renewals, sight } = row.dataset;
    row.total = Number(install) + Number(renewals) + worth * Number(sight);
    const cell = row.querySelector("[data-total]");
    // the amount is written as the server writes it, digits aside
    cell.textContent = cell.textContent.replace(/[\d.,\u202f]*\d/, row.total.toFixed(2).replace(/\B(?=(\d{3})+\.)/g, ","));
    if (!best || row.total < best.total) best = row;
  }
  for (const row of place.querySelectorAll("tr[data-install]")) {
    row.classList.toggle("best", row === best);
    row.querySelector("[data-best]").hidden = row !== best;
    const kept = row.querySelector("[data-keep-worth]");
    if (kept) kept.value = slider.value;
  }
  const dots = [...place.querySelectorAll("tr[data-install]")];
  place.querySelector("[data-said]").textContent =
    `Best at this: ${best.dataset.name}, ${best.dataset.now} now, ${best.dataset.seen} of seam in sight.`;
  const ring = place.querySelector("svg circle.mean");
  const marks = [...place.querySelectorAll("svg circle.solid")];
  const order = dots.map((row, i) => [Number(row.dataset.install), i]).sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  const mark = marks[order.findIndex(([, i]) => dots[i] === best)];
  if (ring && mark) {
    ring.setAttribute("cx", mark.getAttribute("cx"));
    ring.setAttribute("cy", mark.getAttribute("cy"));
  }
}

if (slider) {
  slider.addEventListener("input", show);
  slider.form.querySelector("button").hidden = true;
}
