// Forms with [data-keep] are kept on this device before they are sent, and sent in order, each once: the key of a form
// makes a second sending harmless. With the connection away they wait; how many wait is always in sight. Without this
// module the forms post as any other.
import { all, change, drop, freshKey, keep, lease, release } from "./store.js";

const ME = freshKey();
const LEASE_SECONDS = 5;
const CHUNK = 256 * 1024;
const FIRST_PAUSE = 1500;
const LONGEST_PAUSE = 8000;

const bar = document.querySelector("[data-unsent]");
let pause = FIRST_PAUSE;
let timer = 0;
let sending = false;
let away = false;
// The next page is on its way: what is tapped on this one now would be lost with it.
let leaving = false;

// ------------------------------------------------------------------ keeping

function taken(form, submitter) {
  const data = new FormData(form, submitter ?? undefined);
  const fields = [];
  const files = [];
  for (const [name, value] of data) {
    if (!(value instanceof File)) fields.push([name, value]);
    else if (value.size > 0) files.push({ name: value.name, file: value });
  }
  return { fields, files };
}

async function submitted(event) {
  const form = event.target;
  if (event.defaultPrevented || !(form instanceof HTMLFormElement) || !form.dataset.keep) return;
  if (!("indexedDB" in window)) return;
  event.preventDefault();
  if (form.dataset.busy || leaving) return;
  form.dataset.busy = "1";
  const buttons = [...form.querySelectorAll("button")];
  buttons.forEach((b) => (b.disabled = true));
  try {
    const { fields, files } = taken(form, event.submitter);
    // Not the key of the page: a page that was opened without the connection brings one that is used up.
    const key = freshKey();
    const item = {
      key,
      path: new URL(form.action, location.href).pathname,
      fields: fields.filter(([name]) => name !== "key"),
      files,
      at: Date.now(),
      what: form.dataset.keep,
      car: document.querySelector("[data-car]")?.dataset.car ?? "",
      state: "waits",
    };
    await keep(item);
    const answer = await flush(key);
    if (answer?.to) go(answer.to);
    else if (answer?.page) show(answer.page, answer.url);
    else stays(form);
  } catch (error) {
    // The device keeps nothing (full, or a private window): send it as if this module were not there.
    console.warn("not kept", error);
    HTMLFormElement.prototype.submit.call(form);
    return;
  } finally {
    if (!leaving) {
      delete form.dataset.busy;
      buttons.forEach((b) => (b.disabled = false));
    }
  }
}

function go(to) {
  leaving = true;
  // Nothing can be tapped or typed that would go with the page.
  document.body.inert = true;
  const next = new URL(to, location.href);
  const same = next.pathname === location.pathname && next.search === location.search;
  location.assign(next);
  if (same) location.reload();
}

/** The server's page in place of this one: a form that was refused, with what was typed. */
function show(html, url) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const next = page.getElementById("main");
  const main = document.getElementById("main");
  if (!next || !main) return go(url);
  main.replaceChildren(...next.childNodes);
  main.querySelector("[autofocus]")?.focus();
  document.dispatchEvent(new CustomEvent("renewed"));
}

/** It waits on this device: the form is free for the next one, and a step's card goes on. */
function stays(form) {
  const said = document.createElement("p");
  said.className = "kept";
  said.setAttribute("role", "status");
  said.textContent = `Kept on this device, ${clock(Date.now())}: ${form.dataset.keep}. It is sent when the connection is back.`;
  const steps = form.closest("[data-steps]");
  if (steps) {
    const next = steps.querySelector(`template[data-view="${form.dataset.then}"]`) ?? views.get(form.dataset.then);
    if (!views.has(steps.dataset.steps)) {
      const old = document.createElement("template");
      old.content.append(...[...steps.childNodes].filter((n) => n.nodeName !== "TEMPLATE"));
      views.set(steps.dataset.steps, old);
    }
    [...steps.childNodes].filter((n) => n.nodeName !== "TEMPLATE").forEach((n) => n.remove());
    if (next) steps.append(next.content.cloneNode(true));
    steps.dataset.steps = form.dataset.then ?? "";
    steps.prepend(said);
    // Each tap is a thing of its own: what the page brought along as keys is used up.
    steps.querySelectorAll("input[name=key]").forEach((k) => (k.value = freshKey()));
  } else {
    form.reset();
    form.querySelectorAll("input[name=key]").forEach((k) => (k.value = freshKey()));
    form.before(said);
  }
}

const views = new Map();

function clock(at) {
  return new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
}

// ------------------------------------------------------------------ sending

/** Sends what waits, oldest first. Answers with what the server said to the thing of this key. */
async function flush(wanted) {
  // Several at once would send in another order: who comes second waits for the first and then has its turn.
  while (sending) await new Promise((r) => setTimeout(r, 30));
  sending = true;
  clearTimeout(timer);
  let answer = null;
  // A page that is closed while it sends keeps others waiting for some seconds only.
  const hold = setInterval(() => lease(ME, LEASE_SECONDS).catch(() => {}), 1500);
  try {
    // Where nothing waits no turn is taken: a page that is left at once would keep the next one from sending.
    if (!(await all()).some((item) => item.state === "waits")) return null;
    // Another page of this device has its turn: somebody who tapped waits a moment for it, then it is tried again later.
    const until = Date.now() + (wanted ? 1500 : 0);
    while (!(await lease(ME, LEASE_SECONDS))) {
      if (Date.now() >= until) {
        plan(1000);
        return null;
      }
      await new Promise((r) => setTimeout(r, 150));
    }
    for (const item of await all()) {
      if (item.state !== "waits") continue;
      await lease(ME, LEASE_SECONDS);
      const said = await send(item);
      if (said.again) {
        away = true;
        if (said.signed) await tell(said.signed);
        plan(pause);
        pause = Math.min(LONGEST_PAUSE, pause * 1.6);
        break;
      }
      away = false;
      pause = FIRST_PAUSE;
      if (said.refused && item.key !== wanted) await change({ ...item, state: "refused", why: said.refused });
      else await drop(item.n);
      if (item.key === wanted) answer = said;
      await tell();
    }
  } finally {
    clearInterval(hold);
    await release(ME).catch(() => {});
    sending = false;
    await tell();
  }
  return answer;
}

function plan(after) {
  clearTimeout(timer);
  timer = setTimeout(() => flush().catch(console.warn), after);
}

async function ask(path, options, seconds) {
  const stop = new AbortController();
  const end = setTimeout(() => stop.abort(), seconds * 1000);
  try {
    return await fetch(path, { ...options, signal: stop.signal, headers: { "x-kept": "1", ...options.headers } });
  } finally {
    clearTimeout(end);
  }
}

async function send(item) {
  try {
    const sent = await pictures(item);
    if (sent.again || sent.refused) return sent;
    const body = new URLSearchParams(item.fields);
    body.set("key", item.key);
    body.set("ago", String(Math.max(0, Math.round((Date.now() - item.at) / 1000))));
    item.files.forEach((file, i) => body.append("sent", `${item.key}-${i} ${file.name}`));
    const answer = await ask(item.path, { method: "POST", body }, 30);
    const to = answer.headers.get("x-goes-to");
    if (answer.ok && to) return { to };
    const page = await answer.text();
    return judged(answer, page);
  } catch {
    return { again: true };
  }
}

function judged(answer, page) {
  if (answer.status === 401) return { again: true, signed: "Sign in again, then it is sent." };
  if (answer.status === 429 || answer.status >= 500) return { again: true };
  const said = new DOMParser().parseFromString(page, "text/html").querySelector("[role=alert]");
  const refused = said?.textContent.trim().replace(/\s+/g, " ") || `The server said ${answer.status}.`;
  return { refused, page, url: answer.url };
}

/** Pictures go ahead in pieces; what has arrived is not sent again. */
async function pictures(item) {
  for (const [i, { name, file }] of item.files.entries()) {
    const path = `/upload/${item.key}-${i}`;
    let have = Number((await (await ask(path, { method: "GET" }, 20)).json()).have);
    while (have < file.size) {
      const which = item.files.length > 1 ? ` (${i + 1} of ${item.files.length})` : "";
      await tell(`${name}${which}: ${Math.floor((100 * have) / file.size)} %`, have / file.size, name + which);
      await lease(ME, LEASE_SECONDS);
      const piece = file.slice(have, have + CHUNK);
      const answer = await ask(
        `${path}?from=${have}&size=${file.size}`,
        { method: "POST", body: piece, headers: { "content-type": "application/octet-stream" } },
        60,
      );
      if (!answer.ok) return judged(answer, await answer.text());
      have = Number((await answer.json()).have);
    }
  }
  return {};
}

// ------------------------------------------------------------------ what waits is in sight

async function tell(note = "", share = null, name = "") {
  if (!bar) return;
  const items = await all();
  const waits = items.filter((i) => i.state === "waits");
  const refused = items.filter((i) => i.state === "refused");
  bar.hidden = items.length === 0;
  bar.dataset.count = String(items.length);
  if (items.length === 0) return bar.replaceChildren();
  const parts = [];
  if (waits.length) parts.push(`${waits.length} not sent yet, kept on this device.`);
  if (refused.length) parts.push(`${refused.length} refused: look at ${refused.length === 1 ? "it" : "them"}.`);
  if (note) parts.push(note);
  const open = bar.querySelector("details")?.open;
  const fold = element("details", "");
  fold.open = open ?? false;
  const list = element("ul", "");
  for (const item of items) {
    const row = element("li", "");
    row.append(element("b", item.what), ` ${item.car}, ${clock(item.at)}. `);
    const text = item.fields.filter(([n]) => ["text", "note", "value", "panel", "kind"].includes(n) && n).map(([, v]) => v);
    if (text.length) row.append(element("span", text.join(", ") + " "));
    if (item.files.length) row.append(`${item.files.length} picture${item.files.length > 1 ? "s" : ""}. `);
    if (item.state === "refused") {
      row.append(element("span", item.why + " "));
      const look = element("a", "To the page");
      look.href = item.path;
      const gone = element("button", "Throw it away");
      gone.type = "button";
      gone.addEventListener("click", () => drop(item.n).then(() => tell()));
      const again = element("button", "Send it again");
      again.type = "button";
      again.addEventListener("click", () => change({ ...item, state: "waits" }).then(() => flush()));
      row.append(look, " ", again, " ", gone);
    }
    list.append(row);
  }
  fold.append(element("summary", parts.join(" ")), list);
  const now = element("button", "Send now");
  now.type = "button";
  now.addEventListener("click", () => flush());
  const running = [];
  if (share !== null) {
    const progress = element("progress", "");
    progress.value = share;
    progress.setAttribute("aria-label", `Sent of ${name}`);
    running.push(progress);
  }
  bar.replaceChildren(fold, ...running, ...(waits.length ? [now] : []));
}

function element(name, text) {
  const made = document.createElement(name);
  made.textContent = text;
  return made;
}

document.addEventListener("submit", submitted);
// Back on a page that the browser had kept whole.
addEventListener("pageshow", (event) => event.persisted && leaving && location.reload());
addEventListener("online", () => flush().catch(console.warn));
document.addEventListener("visibilitychange", () => document.hidden || flush().catch(console.warn));
document.addEventListener("reached", () => away && flush().catch(console.warn));
flush().catch(console.warn);

// Only where the browser calls the place secure (HTTPS, or this machine): pages that were looked at open without the
// connection too.
if (navigator.serviceWorker && window.isSecureContext) {
  navigator.serviceWorker.register("/worker.js").catch((error) => console.warn("no worker", error));
}
document.addEventListener("submit", (event) => {
  // Who signs out leaves no pages behind.
  if (new URL(event.target.action, location.href).pathname === "/door/out" && window.caches) caches.delete("pages");
});
