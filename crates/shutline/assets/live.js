// Pages that carry [data-live] show what others did: when the record goes on, the main region is fetched anew,
// unless somebody is typing. Without this module a reload does the same.
const main = document.getElementById("main");
let touched = false;
let stale = false;
let source = null;

const live = () => main?.querySelector("[data-live]");

const typing = () => touched || !!document.activeElement?.closest?.("#main :is(input:not([type=hidden]), textarea, select)");

async function renew() {
  if (typing()) {
    stale = true;
    return;
  }
  stale = false;
  const answer = await fetch(location.href, { headers: { accept: "text/html" } });
  if (!answer.ok || answer.redirected) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const next = page.getElementById("main");
  if (!next || typing()) {
    stale = true;
    return;
  }
  // What stood open stays open; what had the focus keeps it.
  const folds = [...main.querySelectorAll("details")];
  const fresh = [...next.querySelectorAll("details")];
  if (folds.length === fresh.length) folds.forEach((fold, i) => (fresh[i].open ||= fold.open));
  const focused = document.activeElement?.id;
  main.replaceChildren(...next.childNodes);
  main.dataset.seq = next.dataset.seq;
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  main.dispatchEvent(new CustomEvent("renewed", { bubbles: true }));
}

function listen() {
  if (source || document.hidden || !live()) return;
  source = new EventSource(`/live?after=${main.dataset.seq ?? 0}`);
  source.addEventListener("news", renew);
}

// A page in the background holds no connection; it catches up when it is looked at again.
function rest() {
  source?.close();
  source = null;
}

main?.addEventListener("input", () => (touched = true));
main?.addEventListener("focusout", () => setTimeout(() => stale && renew(), 200));
document.addEventListener("visibilitychange", () => (document.hidden ? rest() : listen()));
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
