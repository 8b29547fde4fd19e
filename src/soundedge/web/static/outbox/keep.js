/* How is an entry kept on this device until the bench has it? In IndexedDB, which works on every address, with or without
   a service worker. A number is given and the entry written in one transaction: two open pages cannot take the same. */

const NAME = "soundedge-outbox";
let opened = null;

export const asked = (request) => new Promise((yes, no) => {
  request.onsuccess = () => yes(request.result);
  request.onerror = () => no(request.error);
});

function open() {
  if (opened) return opened;
  opened = new Promise((yes, no) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("items", { keyPath: "key" });
      request.result.createObjectStore("meta", { keyPath: "name" });
    };
    request.onsuccess = () => {
      const base = request.result;
      base.onversionchange = () => { base.close(); opened = null; };
      base.onclose = () => { opened = null; };
      yes(base);
    };
    request.onerror = () => { opened = null; no(request.error); };
  });
  return opened;
}

/* One transaction over both stores. What `work` gives comes back once the disk has it; nothing is half done. */
export async function together(mode, work) {
  const base = await open();
  const transaction = base.transaction(["items", "meta"], mode, { durability: "strict" });
  const finished = new Promise((yes, no) => {
    transaction.oncomplete = () => yes();
    transaction.onabort = () => no(transaction.error || new DOMException("aborted", "AbortError"));
  });
  finished.catch(() => {});
  let answer;
  try {
    answer = await work(transaction.objectStore("items"), transaction.objectStore("meta"));
  } catch (fault) {
    try { transaction.abort(); } catch { /* it has ended already */ }
    throw transaction.error || fault;
  }
  await finished;
  return answer;
}

/* Hex digits from the browser's own source of chance; it is there on plain http too. */
export function chance(digits) {
  const bytes = crypto.getRandomValues(new Uint8Array(Math.ceil(digits / 2)));
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("").slice(0, digits);
}

/* One sender at a time over all open pages: the browser's lock where there is one, else a lease with an end. */
const OWNER = chance(12);
const LEASE_MS = 20000;

export async function alone(work) {
  if (navigator.locks) return navigator.locks.request(NAME, work);
  while (!(await lease(LEASE_MS))) await new Promise((go) => setTimeout(go, 700));
  const renew = setInterval(() => lease(LEASE_MS).catch(() => {}), LEASE_MS / 4);
  try {
    return await work();
  } finally {
    clearInterval(renew);
    await lease(0).catch(() => {});
  }
}

function lease(ms) {
  return together("readwrite", async (items, meta) => {
    const held = await asked(meta.get("lease"));
    const now = Date.now();
    // A lease that ends too far ahead was written under another clock; it does not count.
    if (held && held.owner !== OWNER && held.until > now && held.until < now + 2 * LEASE_MS) return false;
    meta.put({ name: "lease", owner: OWNER, until: ms ? now + ms : 0 });
    return true;
  });
}
