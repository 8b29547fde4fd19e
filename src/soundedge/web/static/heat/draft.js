/* The heat log that is not yet in the record, kept on this device reading by reading, so that it survives a reload, an empty battery
   and a lost network. One draft for each shop, person and job.                                                          */

import { said } from "../outbox/words.js";

const NAME = "soundedge-heat-log";
let opened = null;

const asked = (request) => new Promise((yes, no) => {
  request.onsuccess = () => yes(request.result);
  request.onerror = () => no(request.error);
});

function open() {
  if (opened) return opened;
  opened = new Promise((yes, no) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore("drafts", { keyPath: "key" });
    request.onsuccess = () => {
      request.result.onversionchange = () => { request.result.close(); opened = null; };
      yes(request.result);
    };
    request.onerror = () => { opened = null; no(request.error); };
  });
  return opened;
}

const key_of = (job) => `${said("shop")}/${said("person")}/${job}`;

export async function draft_of(job) {
  const base = await open();
  return (await asked(base.transaction("drafts").objectStore("drafts").get(key_of(job)))) || null;
}

/* Change the draft in one transaction: `how` is given what is kept (or null) and gives what shall be kept (null: nothing). */
export async function change_draft(job, how) {
  const base = await open();
  const transaction = base.transaction("drafts", "readwrite", { durability: "strict" });
  const done = new Promise((yes, no) => {
    transaction.oncomplete = yes;
    transaction.onabort = () => no(transaction.error || new DOMException("aborted", "AbortError"));
  });
  done.catch(() => {});
  const store = transaction.objectStore("drafts");
  const next = how((await asked(store.get(key_of(job)))) || null);
  if (next) store.put({ ...next, key: key_of(job) });
  else store.delete(key_of(job));
  await done;
  return next;
}
