/* Can this device show the bench without network? Where the address is a trusted one, a worker is registered; everywhere else
   nothing changes, and what is recorded is kept all the same while the page is open and after.                            */

import { moment, said, word } from "./words.js";

const kept_at = document.documentElement.dataset.keptAt;
const banner = document.getElementById("kept-copy");
if (kept_at && banner) {
  banner.textContent = word("copy", { at: moment(kept_at) });
  banner.hidden = false;
}

/* Pages belong to the person they were made for. They go when he signs out, and when another person comes. */
async function wipe() {
  if ("caches" in globalThis) await caches.delete("soundedge-pages");
}

async function same_person() {
  if (!("caches" in globalThis) || kept_at) return true;
  const notes = await caches.open("soundedge-note");
  const owner = `${said("shop")}/${said("person")}`;
  const held = await notes.match("/owner");
  if (held && (await held.text()) === owner) return true;
  await wipe();
  await notes.put("/owner", new Response(owner));
  return false;
}

for (const form of document.querySelectorAll('form[action="/sign-out/"], form[data-sign-out]')) {
  form.addEventListener("submit", () => { wipe(); });
}

if ("serviceWorker" in navigator && isSecureContext) {
  try {
    // The worker keeps what it sees; the first page, and the first of another person, it has not seen.
    // It may take over while this page is already here: whether it brought the page, the page's own times say.
    const brought = performance.getEntriesByType("navigation")[0]?.workerStart > 0;
    const seen = (!said("person") || (await same_person())) && brought;
    await navigator.serviceWorker.register(`/sw.js?build=${encodeURIComponent(said("build") || "0")}`, { scope: "/", updateViaCache: "none" });
    const held = await navigator.serviceWorker.ready;
    if (!kept_at && held.active && document.readyState !== "complete") await new Promise((go) => addEventListener("load", go, { once: true }));
    if (!kept_at && held.active) {
      const files = performance.getEntriesByType("resource").map((one) => one.name).filter((name) => name.startsWith(`${location.origin}/static/`));
      held.active.postMessage({ files, page: said("person") && !seen ? location.href : "" });
    }
    document.documentElement.dataset.offlineReady = "yes";
  } catch { /* an authority this device does not trust: no worker, the outbox works without */ }
}
