// Counts down the time that the server reckoned; it starts from what the page says, so a wrong clock does no harm.

const start = performance.now();

for (const place of document.querySelectorAll("[data-left]")) {
  const left = Number(place.dataset.left);
  const show = () => {
    const seconds = left - Math.floor((performance.now() - start) / 1000);
    const s = Math.abs(seconds);
    const two = (n) => String(n).padStart(2, "0");
    const hours = Math.floor(s / 3600);
    const minutes = Math.floor(s / 60) % 60;
    const sign = seconds < 0 ? "−" : "";
    place.textContent = sign + (hours ? `${hours}:${two(minutes)}` : minutes) + `:${two(s % 60)}`;
  };
  show();
  setInterval(show, 1000);
}
