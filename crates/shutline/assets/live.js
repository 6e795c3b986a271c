// Pages that carry [data-live] show what others did: when the record goes on, the main region is fetched anew, unless
// somebody is typing. [data-live="job/0001"] follows those streams only. Without this module a reload does the same.
const main = document.getElementById("main");
let touched = false;
let stale = false;
let source = null;
let renewing = false;

const live = () => main?.querySelector("[data-live]");

const typing = () =>
  touched || !!document.activeElement?.closest?.("#main :is(input:not([type=hidden]), textarea, select)");

/** Whether news of these streams are about this page. */
function mine(news) {
  const wanted = (live()?.dataset.live ?? "").split(" ").filter(Boolean);
  const streams = news.split(" ").slice(1);
  return wanted.length === 0 || streams.length === 0 || streams.some((s) => wanted.includes(s));
}

async function renew() {
  // The next page is on its way.
  if (document.body.inert) return;
  if (typing() || renewing) {
    stale = true;
    if (typing()) tell();
    return;
  }
  stale = false;
  renewing = true;
  try {
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    if (!answer.ok || answer.redirected) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.getElementById("main");
    if (document.body.inert) return;
    if (!next || typing()) {
      stale = true;
      return tell();
    }
    // What stood open stays open; what had the focus keeps it.
    const open = new Set([...main.querySelectorAll("details[open][id]")].map((d) => d.id));
    const folds = [...main.querySelectorAll("details")];
    const fresh = [...next.querySelectorAll("details")];
    if (folds.length === fresh.length) folds.forEach((fold, i) => (fresh[i].open ||= fold.open));
    fresh.forEach((fold) => (fold.open ||= open.has(fold.id)));
    const focused = document.activeElement?.id;
    main.replaceChildren(...next.childNodes);
    main.dataset.seq = next.dataset.seq;
    if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
    main.dispatchEvent(new CustomEvent("renewed", { bubbles: true }));
  } catch {
    stale = true;
  } finally {
    renewing = false;
  }
  if (stale && !typing()) setTimeout(renew, 500);
}

/** Somebody is typing while others go on: nothing is taken away, but it is said. */
function tell() {
  if (main.querySelector(".overtaken")) return;
  const note = document.createElement("p");
  note.className = "note overtaken";
  note.setAttribute("role", "status");
  note.textContent = "Somebody else went on with this meanwhile. What you type stays; saving shows what changed. ";
  const look = document.createElement("a");
  look.href = location.href;
  look.target = "_blank";
  look.textContent = "Look at it as it is now";
  note.append(look);
  main.prepend(note);
}

/** Whether the shop's server can be reached is in sight. */
function reached(yes) {
  const was = document.documentElement.classList.contains("away");
  document.documentElement.classList.toggle("away", !yes);
  if (yes && was) document.dispatchEvent(new CustomEvent("reached"));
}

let misses = 0;

function listen() {
  if (source || document.hidden || !live()) return;
  source = new EventSource(`/live?after=${main.dataset.seq ?? 0}`);
  source.addEventListener("news", (event) => {
    misses = 0;
    reached(true);
    if (mine(event.data)) renew();
  });
  source.addEventListener("open", () => {
    misses = 0;
    reached(true);
  });
  source.addEventListener("error", () => {
    misses += 1;
    if (misses > 1) reached(false);
    // Some browsers give up when the server was away: begin anew.
    if (source?.readyState === EventSource.CLOSED) {
      rest();
      setTimeout(listen, Math.min(15000, 1000 * misses));
    }
  });
}

// A page in the background holds no connection; it catches up when it is looked at again.
function rest() {
  source?.close();
  source = null;
}

main?.addEventListener("input", () => (touched = true));
document.addEventListener("submit", () => (touched = false));
main?.addEventListener("focusout", () => setTimeout(() => stale && renew(), 200));
document.addEventListener("visibilitychange", () => (document.hidden ? rest() : listen()));
addEventListener("offline", () => reached(false));
addEventListener("pagehide", rest);
addEventListener("pageshow", listen);
listen();

// The selector of who is at it closes with Escape and with a tap elsewhere.
const who = document.querySelector("details.who");
document.addEventListener("keydown", (e) => {
  if (e.key === "Escape" && who?.open) {
    who.open = false;
    who.querySelector("summary").focus();
  }
});
document.addEventListener("click", (e) => {
  if (who?.open && !who.contains(e.target)) who.open = false;
});
