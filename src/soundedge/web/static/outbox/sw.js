/* What does the bench show on this device when there is no network? Its own files, and the pages of jobs that were opened here.

   The network is asked first and given three seconds; then comes the copy, which says of itself that it is one and from when.
   Never kept: anything that is sent, the API (but who is signed in, and a job's state), certificates, sign-in pages.
   When somebody signs in or out, the pages go. What waits in the outbox is not here and stays.

   Registered as /sw.js?build=…: another build is another worker, with files of its own.                                  */

const BUILD = new URL(self.location).searchParams.get("build") || "0";
const SHELL = `soundedge-shell-${BUILD}`;
const PAGES = "soundedge-pages";
const OFFLINE = "/offline/";
const FIRST = [
  OFFLINE, "/manifest.webmanifest", "/static/sheet.css", "/static/icons/mark.svg", "/static/outbox/outbox.css",
  ...["words", "keep", "outbox", "form-body", "entry-form", "deciding", "outbox-panel", "register"].map((name) => `/static/outbox/${name}.js`),
];
const WAIT_MS = 3000;
let slow_until = 0;

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
  const { files = [], page = "" } = event.data || {};
  event.waitUntil((async () => {
    const shell = await caches.open(SHELL);
    for (const address of files) {
      const url = new URL(address, self.location);
      if (is_file(url) && !(await shell.match(address))) await fetch(address).then((answer) => answer.ok && shell.put(address, answer)).catch(() => {});
    }
    if (page && is_job_page(new URL(page, self.location))) await fetch(page, { headers: { Accept: "text/html" } }).then((answer) => keep_page(page, answer)).catch(() => {});
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
  if (request.method !== "GET") {
    if (request.mode === "navigate" && changes_person(url)) event.waitUntil(caches.delete(PAGES));
    return;
  }
  if (is_file(url) || url.pathname === "/manifest.webmanifest") event.respondWith(file(request));
  else if (request.mode === "navigate" && !url.pathname.startsWith("/api/")) event.respondWith(page(request, url, event));
  else if (is_state(url) && request.cache !== "no-store") event.respondWith(state(request, event));
});

/* The network within its time, or null. What comes later than that is still put away for the next time. */
async function network(request, put, event) {
  const asked = fetch(request);
  const put_away = asked.then((answer) => put(answer.clone())).catch(() => {});
  if (event) event.waitUntil(put_away);
  let clock;
  const late = new Promise((go) => { clock = setTimeout(go, Date.now() < slow_until ? 300 : WAIT_MS, "late"); });
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
  const { answer, asked } = await network(request, (got) => keep_page(request.url, got), event);
  if (answer) return answer;
  const pages = await caches.open(PAGES);
  const copy = is_job_page(url) && (await pages.match(request.url));
  if (copy) return copy;
  const shell = await caches.open(SHELL);
  return asked.catch(async () => (await shell.match(OFFLINE)) || Response.error());
}

async function state(request, event) {
  const pages = await caches.open(PAGES);
  const put = async (got) => {
    if (got.ok) await pages.put(request.url, await stamped(got));
    if (got.status === 401) await caches.delete(PAGES);
  };
  const { answer, asked } = await network(request, put, event);
  return answer || (await pages.match(request.url)) || asked;
}

/* A page of a job, as it came; the copy says in its first element when that was. */
async function keep_page(address, answer) {
  if (answer.redirected && changes_person(new URL(answer.url))) return caches.delete(PAGES); // the session has ended
  if (!answer.ok || answer.redirected || !is_job_page(new URL(address)) || answer.headers.get("x-keep-offline") === "no") return null;
  if (!(answer.headers.get("Content-Type") || "").startsWith("text/html")) return null;
  const pages = await caches.open(PAGES);
  return pages.put(address, await stamped(answer, true));
}

async function stamped(answer, in_page = false) {
  const at = new Date().toISOString();
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length", "Set-Cookie"]) headers.delete(name);
  headers.set("x-kept-at", at);
  const text = await answer.text();
  return new Response(in_page ? text.replace(/<html\b/i, `<html data-kept-at="${at}"`) : text, { status: answer.status, headers });
}
