// What was done and has not reached the shop's server yet: kept on this device, in the order in which it was done.
// Works over plain HTTP too, so: no `navigator.locks`, no `crypto.randomUUID`.
const NAME = "shutline";
const UNSENT = "unsent";
const LEASE = "lease";

let opened = null;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      const db = request.result;
      db.createObjectStore(UNSENT, { keyPath: "n", autoIncrement: true }).createIndex("key", "key", { unique: true });
      db.createObjectStore(LEASE);
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  return opened;
}

/** Runs `work` on a store in one transaction; answers with its result after the commit. */
async function within(store, mode, work) {
  const db = await open();
  return new Promise((resolve, reject) => {
    const transaction = db.transaction(store, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
    let result;
    const request = work(transaction.objectStore(store), (value) => (result = value));
    if (request) request.onsuccess = () => (result = request.result);
    transaction.oncomplete = () => resolve(result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
}

/** Keeps one thing; the same key is kept once. */
export async function keep(item) {
  try {
    return await within(UNSENT, "readwrite", (store) => store.add(item));
  } catch (error) {
    if (error?.name === "ConstraintError") return null;
    throw error;
  }
}

/** All that is kept, oldest first. */
export const all = () => within(UNSENT, "readonly", (store) => store.getAll());

export const change = (item) => within(UNSENT, "readwrite", (store) => store.put(item));

export const drop = (n) => within(UNSENT, "readwrite", (store) => store.delete(n));

/** A key that nothing else has. */
export function freshKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return "kept-" + Array.from(bytes, (b) => b.toString(16).padStart(2, "0")).join("");
}

/** Among all pages of this device one sends. It holds the right for some seconds and takes it anew while it is at it. */
export function lease(holder, seconds) {
  return within(LEASE, "readwrite", (store, answer) => {
    const request = store.get("sender");
    request.onsuccess = () => {
      const now = Date.now();
      const held = request.result;
      const free = !held || held.holder === holder || held.until < now || held.until > now + 600_000;
      if (free) store.put({ holder, until: now + seconds * 1000 }, "sender");
      answer(free);
    };
    return null;
  });
}

export const release = (holder) =>
  within(LEASE, "readwrite", (store) => {
    const request = store.get("sender");
    request.onsuccess = () => {
      if (request.result?.holder === holder) store.delete("sender");
    };
    return null;
  });
