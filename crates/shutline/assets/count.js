// Counts down the time that the server reckoned; it starts from what the page says, so a wrong clock does no harm. A
// time that runs out sounds once. Timers set on this device go on after the page was closed and sound on any page.
const start = performance.now();
const TIMERS = "shutline.timers";
const two = (n) => String(n).padStart(2, "0");

function said(seconds) {
  const s = Math.abs(seconds);
  const hours = Math.floor(s / 3600);
  const minutes = Math.floor(s / 60) % 60;
  return (seconds < 0 ? "−" : "") + (hours ? `${hours}:${two(minutes)}` : minutes) + `:${two(s % 60)}`;
}

// ------------------------------------------------------------------ sound

let audio = null;

/** Browsers let a page sound only after a tap: the first tap anywhere prepares it. */
function prepare() {
  audio ??= window.AudioContext ? new AudioContext() : null;
  if (audio?.state === "suspended") audio.resume().catch(() => {});
}
addEventListener("pointerdown", prepare);
addEventListener("keydown", prepare);

function sound() {
  navigator.vibrate?.([300, 150, 300, 150, 600]);
  if (!audio || audio.state !== "running") return false;
  for (let i = 0; i < 6; i += 1) {
    const tone = audio.createOscillator();
    const loud = audio.createGain();
    const at = audio.currentTime + i * 0.45;
    tone.frequency.value = i % 2 ? 660 : 880;
    loud.gain.setValueAtTime(0.0001, at);
    loud.gain.exponentialRampToValueAtTime(0.5, at + 0.02);
    loud.gain.exponentialRampToValueAtTime(0.0001, at + 0.35);
    tone.connect(loud).connect(audio.destination);
    tone.start(at);
    tone.stop(at + 0.4);
  }
  document.dispatchEvent(new CustomEvent("sounded"));
  return true;
}

// ------------------------------------------------------------------ what the server reckoned

function countdowns() {
  for (const place of document.querySelectorAll("[data-left]:not([data-counting])")) {
    place.dataset.counting = "1";
    const from = performance.now();
    const left = Number(place.dataset.left) - (place.dataset.seen ? 0 : (from - start) / 1000);
    let before = left;
    const show = () => {
      if (!place.isConnected) return clearInterval(again);
      const now = left - (performance.now() - from) / 1000;
      place.textContent = said(Math.floor(now));
      if (before > 0 && now <= 0) sound();
      before = now;
    };
    const again = setInterval(show, 500);
    show();
  }
}

/** Something that can be done for some seconds only, such as taking a tap back. */
function seconds() {
  for (const place of document.querySelectorAll("[data-seconds]:not([data-counting])")) {
    place.dataset.counting = "1";
    const button = place.querySelector("button");
    const word = button.textContent;
    let left = Number(place.dataset.seconds);
    const tick = () => {
      if (left <= 0) return place.remove();
      button.textContent = `${word} (${left})`;
      left -= 1;
      setTimeout(tick, 1000);
    };
    tick();
    // A reload does not bring it back.
    const url = new URL(location.href);
    url.searchParams.delete("undo");
    history.replaceState(history.state, "", url);
  }
}

// ------------------------------------------------------------------ timers of this device

const read = () => {
  try {
    return JSON.parse(localStorage.getItem(TIMERS) ?? "[]");
  } catch {
    return [];
  }
};
const write = (list) => localStorage.setItem(TIMERS, JSON.stringify(list));

function timers() {
  for (const section of document.querySelectorAll("[data-timer][hidden]")) {
    section.hidden = false;
    section.addEventListener("click", (event) => {
      const minutes = Number(event.target.closest?.("[data-minutes]")?.dataset.minutes);
      if (!minutes) return;
      const end = Date.now() + minutes * 60_000;
      write([...read(), { id: `${section.dataset.timer}@${end}`, name: section.dataset.name, end, page: location.pathname }]);
      line();
    });
  }
}

/** All timers that run on this device, on every page. */
function line() {
  let place = document.querySelector(".timers");
  const list = read().filter((t) => Number.isFinite(t.end));
  if (list.length === 0) return place?.remove();
  if (!place) {
    place = document.createElement("aside");
    place.className = "timers";
    place.setAttribute("aria-label", "Timers");
    document.getElementById("main")?.before(place);
  }
  const now = Date.now();
  const rows = list.map((timer) => {
    const row = document.createElement("p");
    const left = Math.ceil((timer.end - now) / 1000);
    const time = document.createElement("b");
    time.textContent = left > 0 ? said(left) : `over since ${said(-left)}`;
    const name = document.createElement("a");
    name.href = timer.page;
    name.textContent = timer.name;
    const end = document.createElement("button");
    end.type = "button";
    end.textContent = left > 0 ? "Stop" : "Heard";
    end.addEventListener("click", () => {
      write(read().filter((t) => t.id !== timer.id));
      line();
    });
    row.append(time, " ", name, " ", end);
    if (left <= 0) row.className = "over";
    return row;
  });
  // The buttons stay the same while only the time changes: a tap is not lost.
  if (place.children.length === rows.length) {
    rows.forEach((row, i) => {
      place.children[i].querySelector("b").textContent = row.querySelector("b").textContent;
      place.children[i].className = row.className;
      if (place.children[i].querySelector("a").textContent !== row.querySelector("a").textContent) place.children[i].replaceWith(row);
      else place.children[i].querySelector("button").textContent = row.querySelector("button").textContent;
    });
  } else place.replaceChildren(...rows);
  // It sounds until it was heard: every twenty seconds, from the moment on which it ran out.
  for (const timer of list) {
    if (timer.end <= now && (timer.sounded ?? 0) < now - 20_000 && sound()) {
      write(read().map((t) => (t.id === timer.id ? { ...t, sounded: now } : t)));
    }
  }
}

function all() {
  countdowns();
  seconds();
  timers();
  line();
}
document.addEventListener("renewed", () => {
  for (const place of document.querySelectorAll("[data-left]")) place.dataset.seen = "1";
  all();
});
setInterval(line, 1000);
all();
