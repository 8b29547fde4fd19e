/* How does an entry get from a glove to the record when the network comes and goes?

   It is kept on this device first, with an id made here: "<device>-<outbox>-<n>", n = 1, 2, 3 … without a gap in each job.
   Then it is sent, as often as it takes, and taken off this device only when the bench said "stored" or "duplicate".
   A lost answer costs nothing: the same id is sent again, and the same id is never stored twice.

       import { outbox } from "/static/outbox/outbox.js";
       const item = await outbox.put({ job: "KBW-2031-014", kind: "air.read", body: { air_c: 19.8 } });

   An entry belongs to the person and shop that recorded it, and goes only in that person's own session.                  */

import { alone, asked, chance, together } from "./keep.js";
import { said } from "./words.js";

const API = "/api/v1";
const BATCH = 50;
const BATCH_BYTES = 1000000;
const CEILING_S = 60;
const ANSWER_MS = 30000;
const PHOTO_MS = 180000;

let channel = null;
try { channel = new BroadcastChannel("soundedge-outbox"); } catch { /* an old browser: each page counts for itself */ }

const bare = ({ photo, ...item }) => ({ ...item, has_photo: Boolean(photo) });

/* Tell this page and every other open page of the bench. */
function tell(type, detail) {
  document.dispatchEvent(new CustomEvent(type, { detail }));
  if (channel) channel.postMessage({ type, detail });
}

if (channel) {
  channel.onmessage = ({ data }) => {
    document.dispatchEvent(new CustomEvent(data.type, { detail: data.detail }));
    if (data.type === "outbox:trouble") trouble = data.detail;
  };
}

async function recount() {
  tell("outbox:counted", await count());
}

// ------------------------------------------------------------------ keeping

/* Keep one entry. Gives the item as kept; throws what the browser says when it cannot keep it (QuotaExceededError).

   photo      a Blob that is sent first; its digest goes into body[photo_key] ("photo_sha256" for kind "damage", else "sha256")
   kind       a kind of the record, or "damage": a damage to be measured on the photo by the bench
   photo_sha256  the photo's digest where the bench has it already: the photo is kept with the entry, but not sent again
   typed      how the form was filled, so that it can be filled so again
   lines      the same for people: [[what it is called, what was written]], shown while it waits
   brief      a long one in a few such lines
   replaces   key of a refused or conflicting item which this one corrects. A refused one was never stored: its number is
              used again, so that correcting leaves no gap. A conflicting one keeps its number; the new one gets the next.
              Its photo goes over to the new one, unless that has one of its own. */
async function put({ job, kind, body, at, photo, photo_key, photo_sha256, typed, lines, brief, replaces }) {
  const person = said("person");
  const shop = said("shop");
  const device = said("device") || "device";
  if (!person || !job || !kind) throw new TypeError("an entry needs a signed-in person, a job and a kind");
  const panel = document.querySelector("outbox-panel");
  const whole = JSON.parse(JSON.stringify(body)); // what is kept is what will be sent
  const item = await together("readwrite", async (items, meta) => {
    const outboxes = (await asked(meta.get("outbox"))) || { name: "outbox", hex: chance(6), seq: 0 };
    const old = replaces ? await asked(items.get(replaces)) : null;
    const own = old && old.person === person && old.shop === shop && old.job === job;
    let id = own && old.state === "refused" ? old.id : null;
    if (!id) {
      const counter = `count:${shop}/${device}/${job}`;
      const n = ((await asked(meta.get(counter))) || { n: 0 }).n + 1;
      meta.put({ name: counter, n });
      id = `${device}-${outboxes.hex}-${n}`;
    }
    if (own && old.state !== "waiting" && old.state !== "sending") items.delete(old.key);
    outboxes.seq += 1;
    meta.put(outboxes);
    const made = {
      key: `${shop}/${job}/${id}`, seq: outboxes.seq, id, job, kind, body: whole,
      at: at || new Date().toISOString().replace(/\.\d+Z$/, "Z"), shop, person,
      name: (panel && panel.dataset.name) || person, state: "waiting", answer: null, kept_at: new Date().toISOString(),
      typed: typed || null, lines: lines || null, brief: brief || null,
    };
    const from = photo ? { photo, photo_key, photo_sha256 } : own && old.photo ? old : null;
    if (from) {
      made.photo = from.photo;
      made.photo_key = from.photo_key || (kind === "damage" ? "photo_sha256" : "sha256");
      made.photo_sha256 = from.photo_sha256 || null;
      if (made.photo_sha256) made.body = placed(whole, made.photo_key, made.photo_sha256);
    }
    await asked(items.put(made));
    return made;
  });
  if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => {});
  tell("outbox:kept", { item: bare(item) });
  await recount();
  flush();
  return item;
}

/* Everything that is kept here, the oldest first: also what other people recorded. */
async function all() {
  const items = await together("readonly", (store) => asked(store.getAll()));
  return items.sort((a, b) => a.seq - b.seq);
}

/* {total, waiting, refused, conflict} of the person of this page, and `others`: [{name, person, shop, n}] of everybody else. */
async function count() {
  const answer = { total: 0, waiting: 0, refused: 0, conflict: 0, others: [] };
  const others = new Map();
  for (const item of await all()) {
    if (item.person === said("person") && item.shop === said("shop")) {
      answer.total += 1;
      answer[item.state === "sending" ? "waiting" : item.state] += 1;
    } else {
      const key = `${item.shop}/${item.person}`;
      const held = others.get(key) || { name: item.name, person: item.person, shop: item.shop, n: 0 };
      held.n += 1;
      others.set(key, held);
    }
  }
  answer.others = [...others.values()];
  return answer;
}

/* What of this person the bench did not take, of one job and kind; the oldest first. */
async function not_taken(job, kind) {
  return (await all()).filter((item) => item.job === job && item.kind === kind && item.person === said("person")
    && item.shop === said("shop") && (item.state === "refused" || item.state === "conflict"));
}

/* Throw an entry away, by its key, or by its id where only one job has it. Asks nothing: the page asks. */
async function discard(name, job) {
  const gone = await together("readwrite", async (items) => {
    const held = (await asked(items.getAll())).filter((item) => item.key === name || (item.id === name && (!job || item.job === job)));
    if (held.length > 1) throw new RangeError(`${held.length} jobs have an entry ${name}: name the job too`);
    if (held.length) items.delete(held[0].key);
    return held[0] || null;
  });
  if (gone) tell("outbox:discarded", { item: bare(gone) });
  await recount();
  return Boolean(gone);
}

/* Change an item that is still there, or take it away (change gives null). False when it is gone already. */
function change(key, how) {
  return together("readwrite", async (items) => {
    const item = await asked(items.get(key));
    if (!item) return false;
    const next = how(item);
    if (next) items.put(next); else items.delete(key);
    return true;
  });
}

// ------------------------------------------------------------------ sending

let trouble = { why: "", sentence: "" };
let token = "";
let fails = 0;
let timer = 0;
let running = null;
let again = false;

class Stop extends Error {
  constructor(why, sentence = "") {
    super(why);
    this.why = why; // offline | signed_out | not_allowed | server
    this.sentence = sentence;
  }
}

/* Send what waits, as far as it goes. Many calls are one; it never throws. */
function flush() {
  if (running) { again = true; return running; }
  running = (async () => {
    do {
      again = false;
      await alone(pass).catch((fault) => finish(fault instanceof Stop ? fault : new Stop("server", String(fault && fault.message))));
    } while (again);
  })().finally(() => { running = null; plan(); });
  return running;
}

async function finish(stop) {
  fails = stop ? fails + 1 : 0;
  const now = stop ? { why: stop.why, sentence: stop.sentence } : { why: "", sentence: "" };
  if (now.why !== trouble.why || now.sentence !== trouble.sentence) {
    trouble = now;
    tell("outbox:trouble", now);
  }
}

/* When is it tried next? Later and later while it fails, at most a minute; not at all while nothing of this person waits. */
async function plan() {
  clearTimeout(timer);
  const waits = (await count().catch(() => ({ waiting: 0 }))).waiting;
  if (!waits) return;
  const seconds = fails ? Math.min(CEILING_S, 2 ** Math.min(fails - 1, 6)) * (0.7 + 0.3 * Math.random()) : 20;
  timer = setTimeout(flush, seconds * 1000);
}

async function pass() {
  const waiting = (await all()).filter((item) => item.state === "waiting" || item.state === "sending");
  // Somebody else's entries are no reason to ask: asking would keep a session awake that nobody uses.
  if (!waiting.some((item) => item.person === said("person") && item.shop === said("shop"))) return finish(null);
  token = token || said("csrf");
  let me = await whoami();
  const again_with = async () => {
    token = await fresh_token(); // first the token, then the person: a token of before somebody else signed in is refused
    me = await whoami();
    return me;
  };
  const jobs = [...new Set(waiting.filter((item) => item.person === me.person && item.shop === me.shop).map((item) => item.job))];
  if (me.person !== said("person") || me.shop !== said("shop")) {
    if (!jobs.length) throw new Stop("signed_out");
    await again_with();
  }
  let stop = null;
  for (const job of jobs) {
    const met = await one_job(job, me, again_with);
    stop = met || stop;
    if (met && met.why !== "held") break;
  }
  await recount();
  return finish(stop);
}

/* Who is signed in now? The session decides under whose name an entry is stored, so nobody else's are sent. */
async function whoami() {
  const answer = await call("GET", `${API}/me`);
  if (answer.status === 200 && answer.json) {
    if (answer.json.csrf) token = answer.json.csrf;
    return answer.json;
  }
  throw refusal(answer);
}

/* A page that was kept, or that stood open while somebody signed in again, has an old token. The page for no network has a new one. */
async function fresh_token() {
  try {
    const answer = await fetch("/offline/", { cache: "no-store", credentials: "same-origin", signal: AbortSignal.timeout(ANSWER_MS) });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const found = page.querySelector('meta[name="csrf"]');
    return found ? found.content : token;
  } catch {
    throw new Stop("offline");
  }
}

async function call(method, address, { body, type, ms = ANSWER_MS } = {}) {
  const headers = { Accept: "application/json" };
  if (body !== undefined) headers["Content-Type"] = type || "application/json";
  if (method !== "GET") headers["X-CSRFToken"] = token;
  const late = new AbortController();
  const clock = setTimeout(() => late.abort(), ms);
  try {
    const answer = await fetch(address, {
      method, headers, body, cache: "no-store", credentials: "same-origin", redirect: "manual", signal: late.signal,
    });
    if (answer.type === "opaqueredirect") return { status: 401, json: null, problem: false };
    const sort = answer.headers.get("Content-Type") || "";
    const text = await answer.text(); // an answer that breaks off half way is a lost answer
    let json = null;
    if (sort.includes("json")) json = JSON.parse(text);
    return { status: answer.status, json, problem: sort.includes("problem+json") };
  } catch {
    throw new Stop("offline");
  } finally {
    clearTimeout(clock);
  }
}

/* Why an answer stops the sending. Everything is kept. */
function refusal(answer) {
  const sentence = (answer.problem && answer.json.detail) || "";
  if (answer.status === 401) return new Stop("signed_out");
  if (answer.status === 403) return new Stop(answer.problem ? "not_allowed" : "signed_out", sentence);
  return new Stop("server", sentence || `HTTP ${answer.status}`);
}

const stale = (answer) => answer.status === 403 && (!answer.problem || answer.json.kind === "csrf");
const final = (answer) => answer.problem && [400, 404, 409, 413, 415, 422].includes(answer.status);

/* Send one job's entries in order. Gives a Stop when some are left: "held" when only single ones could not be taken. */
async function one_job(job, me, again_with) {
  const passed_over = new Set();
  let most = BATCH;
  let renewed = false;
  let stop = null;
  let photos = true;
  for (;;) {
    const waiting = (await all()).filter((item) => item.job === job && item.person === me.person && item.shop === me.shop
      && (item.state === "waiting" || item.state === "sending") && !passed_over.has(item.key)
      && (photos || !item.photo || item.photo_sha256));
    if (!waiting.length) return stop;
    const batch = run_of(waiting, most);
    const answer = await send(job, batch);
    if (answer === "photo sent") continue;
    if (stale(answer) && !renewed) {
      renewed = true;
      await back(batch);
      const now = await again_with();
      if (now.person !== me.person || now.shop !== me.shop) return new Stop("signed_out");
    } else if (answer.status >= 200 && answer.status < 300 && answer.json) {
      if (!(await settle(batch, answer.json))) { await back(batch); return new Stop("server"); }
    } else if ((final(answer) || answer.status >= 500) && batch.length > 1) {
      most = 1; // one of them is the trouble; the others need not wait for it
      await back(batch);
    } else if (final(answer)) {
      await refuse(batch[0], answer.status === 409 ? "conflict" : "refused",
        { sentence: answer.json.detail, kind: answer.json.kind || "", field: answer.json.field || "" });
    } else if (answer.of_photo && (answer.status === 507 || answer.status === 429)) {
      await back(batch); // no room for photos now: readings need little and go on without them
      photos = false;
      stop = new Stop("held", refusal(answer).sentence);
    } else if (answer.status >= 500 && answer.status !== 503 && answer.status !== 507 && passed_over.size < 3) {
      await back(batch);
      passed_over.add(batch[0].key);
      const why = refusal(answer);
      stop = new Stop("held", why.sentence);
    } else {
      await back(batch);
      return refusal(answer);
    }
  }
}

/* What goes in one request: entries that follow each other; a photo or a damage on a photo goes alone. */
function run_of(waiting, most) {
  const alone_goes = (item) => item.kind === "damage" || (item.photo && !item.photo_sha256);
  if (alone_goes(waiting[0])) return [waiting[0]];
  const batch = [];
  let bytes = 0;
  for (const item of waiting) {
    bytes += JSON.stringify(item.body).length;
    if (alone_goes(item) || batch.length >= most || (batch.length && bytes > BATCH_BYTES)) break;
    batch.push(item);
  }
  return batch;
}

const back = async (batch) => {
  for (const item of batch) await change(item.key, (held) => ({ ...held, state: "waiting" }));
};

async function send(job, batch) {
  const first = batch[0];
  const there = `${API}/jobs/${encodeURIComponent(job)}`;
  for (const item of batch) await change(item.key, (held) => ({ ...held, state: "sending" }));
  tell("outbox:sending", { job, n: batch.length });
  try {
    if (first.photo && !first.photo_sha256) {
      const answer = await call("POST", `${API}/photos`, { body: first.photo, type: first.photo.type || "image/jpeg", ms: PHOTO_MS });
      const digest = answer.status >= 200 && answer.status < 300 && answer.json && answer.json.sha256;
      if (!digest) return answer.status < 300 ? { status: 502, json: null, problem: false } : { ...answer, of_photo: true };
      await change(first.key, (held) => ({ ...held, photo_sha256: digest, body: placed(held.body, held.photo_key, digest) }));
      return "photo sent";
    }
    if (first.kind === "damage") {
      const answer = await call("POST", `${there}/damage`, { body: JSON.stringify({ ...first.body, id: first.id, at: first.at }) });
      if (answer.status < 300 && answer.json && !answer.json.entries) answer.json = { ...answer.json, entries: [{ id: first.id, ...answer.json }] };
      return answer;
    }
    const entries = batch.map(({ id, kind, at, body }) => ({ id, kind, at, body }));
    return await call("POST", `${there}/entries`, { body: JSON.stringify({ sent_at: new Date().toISOString(), entries }) });
  } catch (fault) {
    await back(batch);
    throw fault;
  }
}

function placed(body, path, value) {
  const whole = JSON.parse(JSON.stringify(body));
  const names = path.split(".");
  let at = whole;
  for (const name of names.slice(0, -1)) at = at[name] = at[name] || {};
  at[names.at(-1)] = value;
  return whole;
}

/* Each entry has its own outcome. False when the answer left one out: then nothing is known of it, and it is kept. */
async function settle(batch, json) {
  const answers = new Map((json.entries || []).map((answer) => [answer.id, answer]));
  let known = true;
  for (const item of batch) {
    const answer = answers.get(item.id) || {};
    if (answer.outcome === "stored" || answer.outcome === "duplicate") {
      await change(item.key, () => null);
      tell("outbox:stored", { item: bare(item), answer });
    } else if (answer.outcome === "refused" || answer.outcome === "conflict") {
      const error = answer.error || {};
      await refuse(item, answer.outcome, { sentence: error.message || "", kind: error.kind || "", field: error.field || "" });
    } else {
      known = false;
    }
  }
  if (Math.abs(json.clock_offset_s || 0) > 60) tell("outbox:clock", { seconds: json.clock_offset_s });
  await recount();
  return known;
}

/* The sentence stays as the bench said it then, so its language is kept with it. */
async function refuse(item, state, said) {
  const answer = { ...said, lang: document.documentElement.lang };
  await change(item.key, (held) => ({ ...held, state, answer }));
  tell(`outbox:${state}`, { item: bare({ ...item, state, answer }), answer });
}

// ------------------------------------------------------------------ when it is tried

addEventListener("online", () => { fails = 0; flush(); });
addEventListener("pageshow", () => flush());
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") flush(); });

export const outbox = { put, all, count, not_taken, discard, flush, trouble: () => trouble };
