/* What does the bench show on this device when there is no network? Its own files, and all pages of each job of which one was opened here.

   Who opens a page of a job goes on to any step of it, perhaps where no network is: so the others are fetched behind it, one
   after the other and only while no page asks for anything, with the files they need. The jobs last visited are kept, the oldest goes.
   The network is asked first and given three seconds; then comes the copy, which says of itself that it is one and from when.
   After a decision the copies of its job are old for certain: then the network has twenty seconds, if there is any.
   Never kept: anything that is sent, the API (but who is signed in, and a job's state), certificates, sign-in pages.
   When somebody signs in or out, the pages go. What waits in the outbox is not here and stays.

   Registered as /sw.js?build=…: another build is another worker, with files of its own.                                  */

const BUILD = new URL(self.location).searchParams.get("build") || "0";
const SHELL = `soundedge-shell-${BUILD}`;
const PAGES = "soundedge-pages";
const OFFLINE = "/offline/";
const FIRST = [
  OFFLINE, "/manifest.webmanifest", "/static/sheet.css", "/static/icons/mark.svg", "/static/outbox/outbox.css",
  ...["words", "keep", "outbox", "form-body", "entry-form", "deciding", "outbox-panel", "rows", "elements", "register"].map((name) => `/static/outbox/${name}.js`),
];
const WAIT_MS = 3000;
const JOBS_KEPT = 8;
const QUIET_MS = 250; // the bench answers the person in front of it first
const FRESH_MS = 600000; // so long a copy of the same job, as it stands, is not fetched again,
const MOMENT_MS = 180000; // and so long not even when something was added to the job: 15 pages at each step would keep the bench busy
const LATE_MS = 20000;
const JOBS = "/kept-jobs"; // which jobs are kept, the last visited first
let slow_until = 0;
let in_front = 0; // requests of open pages under way,
let last_asked = 0; // and when the last one came
const decided = new Map(); // job's root → when a page said that the job has moved on
const DECIDED_MS = 60000;
let turn = 0; // another person: what is still under way for the one before is not put away
let keeping = Promise.resolve(true);

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const shell = await caches.open(SHELL);
    await Promise.all(FIRST.map(async (address) => {
      // without a session: the page for no network names nobody
      const answer = await fetch(new Request(address, { credentials: "omit", cache: "no-cache" })).catch(() => null);
      if (answer && answer.ok && !answer.redirected) await shell.put(address, answer);
    }));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    const old = (await caches.keys()).filter((name) => name.startsWith("soundedge-shell-") && name !== SHELL);
    await Promise.all(old.map((name) => caches.delete(name)));
    await self.clients.claim();
  })());
});

self.addEventListener("message", (event) => {
  const { files = [], page = "", job = null, moved = "" } = event.data || {};
  if (moved) {
    decided.set(root_of(moved), Date.now());
    if (event.ports[0]) event.ports[0].postMessage({ moved });
  }
  event.waitUntil((async () => {
    const shell = await caches.open(SHELL);
    for (const address of files) {
      const url = new URL(address, self.location);
      if (is_file(url) && !(await shell.match(address))) await fetch(address).then((answer) => answer.ok && shell.put(address, answer)).catch(() => {});
    }
    if (page && is_job_page(new URL(page, self.location))) {
      const begun = turn;
      await fetch(page, { headers: { Accept: "text/html" } }).then((answer) => keep_page(page, answer, { begun })).catch(() => {});
    }
    if (!job) return;
    keeping = keeping.then(() => keep_job(job)).catch(() => false);
    const ready = await keeping;
    if (event.ports[0]) event.ports[0].postMessage({ ready });
  })());
});

const is_file = (url) => url.origin === self.location.origin && url.pathname.startsWith("/static/");
const is_job_page = (url) => url.origin === self.location.origin
  && (url.pathname === "/" || (url.pathname.startsWith("/jobs/") && !/\.\w+$/.test(url.pathname)));
const is_state = (url) => url.pathname === "/api/v1/me" || /^\/api\/v1\/jobs\/[^/]+$/.test(url.pathname);
const changes_person = (url) => ["/sign-in/", "/sign-out/", "/password/", "/first-start/"].includes(url.pathname);

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  last_asked = Date.now();
  if (request.method !== "GET") {
    if (request.mode === "navigate" && changes_person(url)) event.waitUntil(ended());
    return;
  }
  if (is_file(url) || url.pathname === "/manifest.webmanifest") event.respondWith(file(request));
  else if (request.mode === "navigate" && !url.pathname.startsWith("/api/")) event.respondWith(page(request, url, event));
  else if (is_state(url) && request.cache !== "no-store") event.respondWith(state(request, event));
});

/* The network within its time, or null. What comes later than that is still put away for the next time. */
async function network(request, put, event, wait = Date.now() < slow_until ? 300 : WAIT_MS) {
  in_front += 1;
  const begun = turn;
  const asked = fetch(request).finally(() => { in_front -= 1; });
  const put_away = asked.then((answer) => begun === turn && put(answer.clone())).catch(() => {});
  if (event) event.waitUntil(put_away);
  let clock;
  const late = new Promise((go) => { clock = setTimeout(go, wait, "late"); });
  const first = await Promise.race([asked.catch(() => null), late]);
  clearTimeout(clock);
  if (first === "late") slow_until = Date.now() + 30000; // one wait is enough for a page and all its files
  return { answer: first === "late" ? null : first, asked };
}

async function file(request) {
  const shell = await caches.open(SHELL);
  const { answer, asked } = await network(request, (got) => (got.ok ? shell.put(request, got) : null));
  if (answer) return answer;
  return (await shell.match(request, { ignoreSearch: true })) || asked;
}

async function page(request, url, event) {
  const begun = turn;
  const put = (got) => (url.pathname === "/sign-in/" && got.ok ? ended() : keep_page(request.url, got, { begun }));
  const patient = Math.abs(Date.now() - (decided.get(root_of(url.pathname)) ?? -Infinity)) < DECIDED_MS;
  const { answer, asked } = await network(request, put, event, patient ? LATE_MS : undefined);
  if (answer) return answer;
  const pages = await caches.open(PAGES);
  const copy = is_job_page(url) && ((await pages.match(request.url)) || (await pages.match(url.origin + url.pathname)));
  if (copy) return copy;
  const shell = await caches.open(SHELL);
  return asked.catch(async () => (await shell.match(OFFLINE)) || Response.error());
}

async function state(request, event) {
  const begun = turn;
  const put = async (got) => {
    if (got.status === 401) await ended();
    if (!got.ok) return;
    const kept = await stamped(got);
    const pages = await caches.open(PAGES);
    if (begun === turn) await pages.put(request.url, kept);
  };
  const { answer, asked } = await network(request, put, event);
  return answer || (await (await caches.open(PAGES)).match(request.url)) || asked;
}

/* Nobody is signed in any more: so the bench said of a page, or it showed its door, which it shows to nobody else. */
function ended() {
  turn += 1;
  return caches.delete(PAGES);
}

// ------------------------------------------------------------------ a job and all its pages

const root_of = (pathname) => (/^\/jobs\/[^/]+\//.exec(pathname) || [""])[0];

/* Fetch and keep what is not here, or is here as it was some time ago. True when every page of the job lies here with its files.
   `look`: only that is asked, nothing is fetched. */
async function keep_job({ pages: addresses = [], head = "", owner = "", look = false }) {
  const begun = turn;
  const urls = addresses.map((address) => new URL(address, self.location));
  const root = urls.length ? root_of(urls[0].pathname) : "";
  if (!root || urls.some((url) => !is_job_page(url) || root_of(url.pathname) !== root)) return false;
  if (!look) await visited(root);
  let ready = true;
  for (const url of urls) {
    if (begun !== turn) return false;
    ready = (await keep_one(url.href, { head, owner, look, begun })) && ready;
  }
  return ready;
}

async function keep_one(address, { head, owner, look, begun }) {
  const pages = await caches.open(PAGES);
  const age = (copy) => Date.now() - Date.parse(copy.headers.get("x-kept-at"));
  const fresh = (copy) => age(copy) >= 0 && (age(copy) < MOMENT_MS || (age(copy) < FRESH_MS && copy.headers.get("x-kept-head") === head));
  let copy = await pages.match(address);
  if (!look && !(copy && fresh(copy))) {
    while (in_front || Math.abs(Date.now() - last_asked) < QUIET_MS) await new Promise((go) => { setTimeout(go, QUIET_MS); });
    const answer = await fetch(address, { headers: { Accept: "text/html" }, signal: AbortSignal.timeout(LATE_MS) }).catch(() => null);
    if (answer) await keep_page(address, answer, { owner, begun }).catch(() => {});
    copy = await pages.match(address);
  }
  return Boolean(copy) && files_of(await copy.text(), /\b(?:src|href)="(\/static\/[^"?#]+)/g, address, look);
}

const whole = new Set(); // files that are kept with every file they import

async function files_of(text, pattern, base, look) {
  let all = true;
  for (const [, name] of text.matchAll(pattern)) all = (await keep_file(new URL(name, base), look)) && all;
  return all;
}

async function keep_file(url, look) {
  if (!is_file(url)) return false;
  if (whole.has(url.pathname)) return true;
  const shell = await caches.open(SHELL);
  let kept = await shell.match(url.pathname);
  if (!kept && !look) {
    kept = await fetch(url.pathname, { signal: AbortSignal.timeout(LATE_MS) }).catch(() => null);
    if (kept && kept.ok) await shell.put(url.pathname, kept.clone()).catch(() => { kept = null; });
  }
  if (!kept || !kept.ok) return false;
  whole.add(url.pathname); // before its imports: two files may import each other
  if (!url.pathname.endsWith(".js") || (await files_of(await kept.text(), /\b(?:from|import)\s*\(?\s*"(\.{0,2}\/[^"]+)"/g, url, look))) return true;
  whole.delete(url.pathname);
  return false;
}

/* This job is the last visited; what is beyond the number of jobs kept goes. */
async function visited(root) {
  const pages = await caches.open(PAGES);
  const held = await pages.match(JOBS);
  const roots = [root, ...(held ? await held.json() : []).filter((one) => one !== root)].slice(0, JOBS_KEPT);
  await pages.put(JOBS, new Response(JSON.stringify(roots)));
  for (const { url } of await pages.keys()) {
    const { pathname } = new URL(url);
    const its = root_of(pathname.replace(/^\/api\/v1(\/jobs\/[^/]+)$/, "$1/"));
    if (its && its !== "/jobs/new/" && !roots.includes(its)) await pages.delete(url);
  }
}

/* A page of a job, as it came; the copy says in its first element when that was. */
async function keep_page(address, answer, { begun, owner = null }) {
  if (answer.redirected && changes_person(new URL(answer.url))) return begun === turn ? ended() : null;
  if (!answer.ok || answer.redirected || !is_job_page(new URL(address)) || answer.headers.get("x-keep-offline") === "no") return null;
  if (!(answer.headers.get("Content-Type") || "").startsWith("text/html")) return null;
  const kept = await stamped(answer, true);
  const pages = await caches.open(PAGES);
  if (owner !== null && !(await is_of(kept.clone(), owner))) return null;
  if (begun !== turn) return null; // asked last, right before it is put away
  return pages.put(address, kept);
}

/* Was this page made for the person whose pages are kept here? Somebody else may have signed in while it was fetched. */
async function is_of(copy, owner) {
  const held = await (await caches.open("soundedge-note")).match("/owner");
  const text = await copy.text();
  const [shop, person] = ["shop", "person"].map((name) => (new RegExp(`<meta name="${name}" content="([^"]*)">`).exec(text) || [])[1]);
  return Boolean(held) && (await held.text()) === owner && `${shop}/${person}` === owner;
}

async function stamped(answer, in_page = false) {
  const at = new Date().toISOString();
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length", "Set-Cookie"]) headers.delete(name);
  headers.set("x-kept-at", at);
  const text = await answer.text();
  const head = in_page && /<nav class="path" data-head="(\w*)"/.exec(text);
  if (head) headers.set("x-kept-head", head[1]);
  return new Response(in_page ? text.replace(/<html\b/i, `<html data-kept-at="${at}"`) : text, { status: answer.status, headers });
}
