// Pages that were looked at open without the connection too, as they were. Only looking: what is done is kept by keep.js.
const PAGES = "pages";
const MOST = 80;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (url.pathname.startsWith("/assets/")) event.respondWith(asset(request));
  else if (request.mode === "navigate" && !/^\/(door|look|live|upload)/.test(url.pathname)) event.respondWith(page(request));
});

async function asset(request) {
  const cache = await caches.open("assets");
  const known = await cache.match(request);
  if (known) return known;
  const answer = await fetch(request);
  if (answer.ok) await cache.put(request, answer.clone());
  return answer;
}

async function page(request) {
  const cache = await caches.open(PAGES);
  try {
    const answer = await fetch(request);
    if (answer.ok && !answer.redirected && answer.headers.get("content-type")?.startsWith("text/html")) {
      await cache.put(request, answer.clone());
      const keys = await cache.keys();
      for (const old of keys.slice(0, Math.max(0, keys.length - MOST))) await cache.delete(old);
    }
    return answer;
  } catch (error) {
    const known = await cache.match(request, { ignoreVary: true });
    if (known) return known;
    throw error;
  }
}
