/* Can this device show the bench without network? Where the address is a trusted one, a worker is registered; everywhere else
   nothing changes, and what is recorded is kept all the same while the page is open and after.                            */

import { moment, said, word } from "./words.js";

const kept_at = document.documentElement.dataset.keptAt;
const banner = document.getElementById("kept-copy");
if (kept_at && banner) {
  banner.textContent = word("copy", { at: moment(kept_at) });
  banner.hidden = false;
}

/* Pages belong to the person they were made for. They are deleted when that person signs out or another signs in. */
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

/* Every page of this job, told to the worker; and said on the job's own page: is all of it here? */
const path = document.querySelector("nav.path[data-head]");
const job_kept = document.querySelector("[data-job-kept]");

function say_job(name) {
  if (!job_kept) return;
  job_kept.textContent = word(name);
  job_kept.hidden = false;
}

function keep_job(worker) {
  if (!path || !said("person")) return;
  const pages = [...path.querySelectorAll("a[href]")].map((one) => one.pathname).concat(path.dataset.also);
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = ({ data }) => say_job(data.ready ? "job_ready" : "job_not_ready");
  say_job("job_asking");
  worker.postMessage({ job: { pages, head: path.dataset.head, owner: `${said("shop")}/${said("person")}`, look: Boolean(kept_at) } }, [port2]);
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
    if (held.active) keep_job(held.active);
    document.documentElement.dataset.offlineReady = "yes";
  } catch { say_job("job_never"); /* an authority this device does not trust: no worker, the outbox works without */ }
} else {
  say_job("job_never");
}
