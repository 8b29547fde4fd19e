/* <outbox-panel>: one quiet line, "All sent" or what waits on this device; opened, it lists what waits, why, and what can be done.
   What somebody else wrote down here is only counted; but what waits of a person whose account is disabled could wait for ever, so
   an inspector or a manager reads it here and throws it away.
   A row stands as long as its entry does, so that a tap meets what it was meant for, and a photo that is shown stays shown.
   Its parts are the page's own <template id="outbox-panel-parts">. data-job-address: where a job is, with {job} in it.
   data-role: of who is signed in.                                                                                          */

import { element, paint } from "./elements.js";
import { lines_of } from "./form-body.js";
import { outbox } from "./outbox.js";
import { set_rows } from "./rows.js";
import { counted, kind_named, moment, said, word } from "./words.js";

const ORDER = { conflict: 0, refused: 1, sending: 2, waiting: 3 };
const SHAPE = { conflict: "square", refused: "square", sending: "pencil", waiting: "pencil" };

const CLEARS = ["inspector", "manager"];
const WRONG_CLOCK_S = 60;
const LONG = 12; // lines that are read at a glance; of more, the first few, and all in a fold
const FEW = 4;
const DIGEST = /^[0-9a-f]{64}$/;

const photo_line = ({ name, size }) => `${name ? `${name}, ` : ""}${Math.max(1, Math.round(size / 1000))} kB`;

/* Lines as terms of a list. Texts of people, so never as markup. */
const terms = (lines) => lines.flatMap((line) => line.map((text, i) => element(i ? "dd" : "dt", text)));

/* How far this device's clock is from the bench's, by the page just loaded: it was made between the asking for it and now.
   Negative: behind. 0 for a copy, and where it cannot be told apart from the way. */
function clock_offset_s() {
  const made = Date.parse(said("kept-at"));
  if (Number.isNaN(made) || document.documentElement.dataset.keptAt) return 0;
  const least = (Date.now() - performance.now() - made) / 1000;
  const most = (Date.now() - made) / 1000;
  return least > 0 ? least : most < 0 ? most : 0;
}

class OutboxPanel extends HTMLElement {
  rows = new Map(); // key of an entry → {row, item}
  draws = 0;

  connectedCallback() {
    if (this.line) return;
    this.append(document.getElementById("outbox-panel-parts").content.cloneNode(true));
    this.line = this.querySelector("[data-line]");
    this.shape = this.querySelector("[data-shape]");
    this.list = this.querySelector("[data-items]");
    this.whys = this.querySelector("[data-why]");
    this.others = this.querySelector("[data-others]");
    this.clock = this.querySelector("[data-clock]");
    this.querySelector("[data-send]").addEventListener("click", () => outbox.flush());
    this.querySelector("[data-panel]").addEventListener("toggle", () => this.draw());
    this.trouble = outbox.trouble();
    const later = () => { clearTimeout(this.soon); this.soon = setTimeout(() => this.draw(), 60); };
    for (const name of ["outbox:counted", "outbox:sending", "outbox:refused", "outbox:conflict", "outbox:stored"]) document.addEventListener(name, later);
    document.addEventListener("outbox:trouble", ({ detail }) => { this.trouble = detail; later(); });
    document.addEventListener("outbox:clock", ({ detail }) => this.wrong_clock(detail.seconds));
    this.wrong_clock(clock_offset_s());
    this.draw();
  }

  wrong_clock(seconds) {
    if (Math.abs(seconds) <= WRONG_CLOCK_S) return;
    this.clock.textContent = counted(seconds < 0 ? "clock_slow" : "clock_fast", Math.max(1, Math.round(Math.abs(seconds) / 60)));
    this.clock.hidden = false;
  }

  /* Whose entries can never be sent: asked of the bench once, when an inspector or manager looks and somebody else's wait here. */
  async let_in_no_more(others) {
    if (!CLEARS.includes(this.dataset.role) || !others.some((one) => one.shop === said("shop"))) return new Set();
    this.closed = this.closed || fetch("/api/v1/people", { cache: "no-store", credentials: "same-origin", headers: { Accept: "application/json" } })
      .then((answer) => (answer.ok ? answer.json() : Promise.reject(new Error(String(answer.status)))))
      .then(({ people }) => new Set(people.filter((one) => one.disabled).map((one) => one.id)))
      .catch(() => { this.closed = null; return new Set(); }); // no network: asked again at the next look
    return this.closed;
  }

  async draw() {
    this.draws += 1;
    const mine = this.draws;
    let n;
    let items;
    try {
      [n, items] = [await outbox.count(), await outbox.all()];
    } catch (fault) {
      this.say("square", word("not_kept", { why: (fault && fault.message) || "" }));
      return;
    }
    const held = n.refused + n.conflict;
    if (held) this.say("square", [counted("refused", held), n.waiting ? counted("wait", n.waiting) : ""].filter(Boolean).join("; "));
    else if (n.waiting) this.say("pencil", counted("wait", n.waiting));
    else this.say("disc", word("all_sent"));
    this.querySelector("[data-send]").hidden = !n.waiting;
    const why = n.waiting && this.trouble.why ? word(`trouble_${this.trouble.why}`) : "";
    this.whys.replaceChildren(why);
    if (why && this.trouble.sentence) this.whys.append(` ${this.trouble.sentence}`);
    this.whys.hidden = !why;
    const open = this.querySelector("[data-panel]").open;
    const gone = open ? await this.let_in_no_more(n.others) : new Set();
    if (mine !== this.draws) return; // a later one draws what is so now
    const left = items.filter((item) => item.shop === said("shop") && item.person !== said("person") && gone.has(item.person));
    this.others.replaceChildren(...n.others.filter((one) => one.shop !== said("shop") || !gone.has(one.person)).map((one) =>
      element("p", one.shop === said("shop") || !said("shop") ? counted("other", one.n, { name: one.name }) : counted("other_shop", one.n))));
    this.querySelector("[data-nothing]").hidden = Boolean(n.total || n.others.length);
    if (!open || this.querySelector("[data-sure]")) return; // not while the question is open
    const own = items.filter((item) => item.person === said("person") && item.shop === said("shop"));
    own.sort((a, b) => ORDER[a.state] - ORDER[b.state] || a.seq - b.seq);
    const focused = this.list.contains(document.activeElement) ? document.activeElement : null;
    const its = focused && focused.closest("li").dataset.key;
    for (const key of this.rows.keys()) if (!items.some((item) => item.key === key)) this.rows.delete(key);
    set_rows(this.list, own.map((item) => this.row(item)));
    this.list.hidden = !own.length;
    this.leave(left);
    if (!focused || (this.list.contains(focused) && !focused.closest("[hidden]"))) return;
    (this.list.querySelector(`[data-key="${CSS.escape(its)}"] button:not([hidden])`) || this.querySelector("summary")).focus();
  }

  /* What waits of people whose accounts are disabled, person by person, with what can be done. */
  leave(left) {
    const names = [...new Set(left.map((item) => item.person))];
    const stand = left.map((item) => `${item.key}/${item.seq}/${item.state}`).join(" ");
    if (stand === this.left) return;
    this.left = stand;
    this.querySelector("[data-left]").replaceChildren(...names.flatMap((person) => {
      const its = left.filter((item) => item.person === person);
      const says = element("p", counted("left", its.length, { name: its[0].name }), "notice");
      const list = document.createElement("ol");
      list.append(...its.map((item) => this.row(item)));
      return [says, list];
    }));
  }

  /* The row of an entry, made when it is first seen; what can change of it is said anew. A refused one that was put right has
     the same key and another seq. */
  row(item) {
    let held = this.rows.get(item.key);
    if (!held || held.item.seq !== item.seq) {
      held = this.made(item);
      this.rows.set(item.key, held);
    }
    held.item = item;
    this.stand(held);
    return held.row;
  }

  /* What of a row never changes, and what its buttons do. */
  made(item) {
    const row = document.getElementById("outbox-panel-row").content.firstElementChild.cloneNode(true);
    const held = { row, item };
    const part = (name) => row.querySelector(`[data-${name}]`);
    row.dataset.key = item.key;
    const kind = kind_named(item.kind);
    part("what").textContent = kind.label;
    part("job").textContent = item.job;
    part("job").href = this.address(item);
    part("at").textContent = moment(item.at);
    part("at").dateTime = item.at;
    part("page").href = `${this.address(item)}${kind.page}/`;
    part("there").href = `${this.address(item)}history/?at=${encodeURIComponent(item.id)}#entry-${encodeURIComponent(item.id)}`;
    this.values(row, item);
    part("show-photo").hidden = !item.photo;
    part("show-photo").addEventListener("click", ({ currentTarget }) => {
      const photo = document.createElement("img");
      photo.src = URL.createObjectURL(held.item.photo);
      photo.alt = `${word("photo")}: ${photo_line(held.item.photo)}`;
      photo.addEventListener("load", () => URL.revokeObjectURL(photo.src));
      currentTarget.replaceWith(photo);
    });
    part("correct").addEventListener("click", () => {
      const form = this.form_of(held.item);
      this.querySelector("[data-panel]").open = false;
      for (let fold = form.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
      form.scrollIntoView({ block: "center" });
      form.take_back(held.item);
    });
    part("discard").addEventListener("click", () => this.sure(row, held.item));
    for (const one of row.querySelectorAll("button")) one.setAttribute("aria-label", `${one.textContent.trim()}: ${part("what").textContent}, ${item.job}, ${part("at").textContent}`);
    return held;
  }

  /* What of a row can change: how its entry stands, why, and what can be done. */
  stand({ row, item }) {
    const part = (name) => row.querySelector(`[data-${name}]`);
    part("state").textContent = word(`state_${item.state}`);
    paint(part("state-shape"), SHAPE[item.state]);
    part("sentence").textContent = (item.answer && item.answer.sentence) || "";
    part("sentence").lang = (item.answer && item.answer.lang) || "en";
    part("sentence").hidden = !part("sentence").textContent;
    if (item.state === "conflict" && part("stored").hidden) this.stored(part("stored"), item);
    const own = item.person === said("person");
    const not_taken = own && (item.state === "refused" || item.state === "conflict");
    const form = own && this.form_of(item);
    part("correct").hidden = !(form && not_taken);
    part("page").hidden = Boolean(form) || !not_taken || !kind_named(item.kind).page;
    part("there").hidden = item.state !== "conflict";
    part("discard").hidden = item.state === "sending";
  }

  address(item) {
    return (this.dataset.jobAddress || "/jobs/{job}/").replace("{job}", encodeURIComponent(item.job));
  }

  /* What it says: as it was typed, where a form said so; else what is sent, but for the digest of its photo, which comes into it
     on the way. A long one in short, and all of it in a fold. */
  values(row, item) {
    const lines = item.lines || lines_of(item.body).filter(([, text]) => !(item.photo && DIGEST.test(text)));
    const long = lines.length > LONG;
    const short = long ? item.brief || lines.slice(0, FEW) : lines;
    row.querySelector("[data-values]").replaceChildren(...terms(item.photo ? [[word("photo"), photo_line(item.photo)], ...short] : short));
    const all = row.querySelector("[data-all]");
    if (!long) return all.remove();
    all.querySelector("summary").textContent = word("all_lines", { n: lines.length });
    all.querySelector("dl").append(...terms(lines));
  }

  /* What the record has under the number of an entry that was written down twice; without network there is the link only. */
  async stored(place, item) {
    this.records = this.records || new Map();
    if (!this.records.has(item.job)) {
      this.records.set(item.job, fetch(`/api/v1/jobs/${encodeURIComponent(item.job)}/record.json`, { cache: "no-store", credentials: "same-origin" })
        .then((answer) => (answer.ok ? answer.json() : Promise.reject(new Error(String(answer.status)))))
        .then(({ events }) => events)
        .catch(() => { this.records.delete(item.job); return []; })); // asked again at the next look
    }
    const one = (await this.records.get(item.job)).find((event) => event.id === item.id);
    if (!one) return;
    place.querySelector("p").textContent = word("stored_there", { by: one.by, at: moment(one.at) });
    place.querySelector("dl").replaceChildren(...terms(lines_of(one.body)));
    place.hidden = false;
  }

  /* The form on this page that such an entry is put right in, if there is one. */
  form_of(item) {
    return [...document.querySelectorAll("entry-form, heat-log, survey-page, reading-pad")].find((one) => one.takes && one.takes(item));
  }

  sure(row, item) {
    const asks = document.getElementById("outbox-panel-sure").content.firstElementChild.cloneNode(true);
    asks.setAttribute("data-sure", "");
    if (item.person !== said("person")) asks.querySelector("p").textContent = word("discard_left", { name: item.name });
    asks.querySelector("[data-yes]").addEventListener("click", async () => {
      await outbox.discard(item.key);
      asks.remove();
      await this.draw();
      this.querySelector("summary").focus();
    });
    asks.querySelector("[data-no]").addEventListener("click", async () => {
      asks.remove();
      await this.draw();
      this.querySelector(`[data-key="${CSS.escape(item.key)}"] [data-discard]`)?.focus();
    });
    row.append(asks);
    asks.querySelector("[data-no]").focus();
  }

  say(shape, text) {
    paint(this.shape, shape);
    if (this.line.textContent !== text) this.line.textContent = text; // a screen reader speaks only when it changed
  }
}

customElements.define("outbox-panel", OutboxPanel);
outbox.flush();
