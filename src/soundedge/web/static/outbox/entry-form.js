/* <entry-form kind="air.read" job="KBW-2031-014"> round a plain <form>: what is written down is kept on this device at once,
   sent when there is network, and the form says which.

   data-fixed    keys that every entry of this form has, as JSON; what is typed goes over them
   data-keep     on a field: it stays for the next entry
   "before-entry" is dispatched here before anything is kept: detail.body, detail.at, detail.photo, detail.photo_key may be
   changed, preventDefault() stops it, detail.wait(promise) makes it wait. "entry-kept" follows with the item.            */

import { kept_refusal, quiet_button, shape } from "./elements.js";
import { body_of, clear, fill, label_of, lines_in, lines_of, mark, rows_in, suits, typed_in } from "./form-body.js";
import { outbox } from "./outbox.js";
import { word } from "./words.js";

let numbered = 0;

class EntryForm extends HTMLElement {
  connectedCallback() {
    if (this.form) { // put elsewhere in the page
      for (const name of EVENTS) document.addEventListener(name, this.heard);
      return;
    }
    this.form = this.querySelector("form");
    if (!this.form) return;
    this.form.noValidate = true;
    this.output = this.form.querySelector("output") || this.form.appendChild(document.createElement("output"));
    this.output.setAttribute("aria-live", "polite");
    numbered += 1;
    this.output.id = this.output.id || `entry-says-${numbered}`;
    this.last = null; // key of the entry this form speaks of
    this.replaces = null;
    this.taken = new Set();
    this.asked = 0;
    this.turn = Promise.resolve();
    rows_in(this.form);
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.keep(); });
    this.heard = (event) => this.hear(event);
    for (const name of EVENTS) document.addEventListener(name, this.heard);
    this.refused_before();
  }

  disconnectedCallback() {
    for (const name of EVENTS) document.removeEventListener(name, this.heard);
  }

  get fixed() {
    return this.dataset.fixed ? JSON.parse(this.dataset.fixed) : {};
  }

  /* What is typed is taken at once; keeping it may wait for the one before. A glove taps twice: the same again is not taken. */
  keep() {
    const typed = typed_in(this.form);
    const lines = [...lines_in(this.form), ...lines_of(this.fixed)];
    const as_typed = JSON.stringify(typed);
    if (this.taken.has(as_typed)) return;
    const found = body_of(this.form);
    mark(this.form, found.faults, this.output);
    if (found.faults.length) {
      this.say("held", found.faults.map(({ element, word: name }) => word(name, { field: label_of(element) })).join(" "));
      return;
    }
    const { replaces } = this;
    this.replaces = null;
    this.taken.add(as_typed);
    this.unsay(); // what was said of the entry before is not said of this one
    this.last = null;
    const newest = ++this.asked;
    this.turn = this.turn.then(() => this.put(found, typed, lines, replaces, newest)).finally(() => this.taken.delete(as_typed));
  }

  async put(found, typed, lines, replaces, newest) {
    try {
      const waits = [];
      const detail = { body: over(this.fixed, found.body), at: found.at, photo: found.photo, photo_key: found.photo_key, wait: (promise) => waits.push(promise) };
      if (!this.dispatchEvent(new CustomEvent("before-entry", { bubbles: true, cancelable: true, detail }))) { this.replaces = replaces; return; }
      await Promise.all(waits);
      const item = await outbox.put({
        job: this.getAttribute("job"), kind: this.getAttribute("kind"), body: detail.body, at: detail.at || undefined,
        photo: detail.photo || undefined, photo_key: detail.photo_key || undefined, typed, lines, replaces: replaces || undefined,
      });
      this.last = item.key;
      if (newest === this.asked) this.say("kept", word("kept"));
      if (JSON.stringify(typed_in(this.form)) === JSON.stringify(typed)) clear(this.form); // else the next is being typed already
      this.dispatchEvent(new CustomEvent("entry-kept", { bubbles: true, detail: { item } }));
    } catch (fault) {
      this.replaces = this.replaces || replaces;
      this.say("held", word(fault && fault.name === "QuotaExceededError" ? "full" : "not_kept", { why: (fault && fault.message) || "" }));
    }
  }

  hear({ type, detail }) {
    if (!detail || !detail.item || detail.item.key !== this.last) return;
    if (type === "outbox:discarded") this.unsay();
    if (type === "outbox:stored") this.say("stored", word("stored", { no: detail.answer.no ?? "" }));
    if (type === "outbox:refused" || type === "outbox:conflict") this.refused(detail.item, type.slice(7));
  }

  /* Is it this form's own? So the list of what waits finds the place where an entry is put right. */
  takes(item) {
    return item.kind === this.getAttribute("kind") && item.job === this.getAttribute("job") && Boolean(this.form && item.typed) && suits(this.form, item.typed);
  }

  /* What was not taken while this page was not open. */
  async refused_before() {
    const found = (await outbox.not_taken(this.getAttribute("job"), this.getAttribute("kind")).catch(() => [])).find((item) => [...document.querySelectorAll("entry-form")].find((one) => one.takes(item)) === this);
    if (!found || this.last || this.asked || this.replaces) return;
    this.last = found.key;
    this.refused(found, found.state);
  }

  /* The bench's own sentence, and the way back: the form as it was filled. */
  refused(item, state) {
    this.say("held", word(state));
    this.output.append(" ", kept_refusal(item), " ");
    if (item.typed) this.output.append(quiet_button(word("take_back"), () => this.take_back(item)));
  }

  /* Fill the form as it was; the next entry takes this one's place. */
  take_back(item) {
    fill(this.form, item.typed);
    this.replaces = item.key;
    this.last = null;
    const photo = item.photo || item.has_photo ? this.form.querySelector("input[type=file]") : null;
    if (photo) photo.dataset.held = "yes";
    this.say("held", photo ? `${word("correct_now")} ${word("photo_stays")}` : word("correct_now"));
    this.time_of(item);
    this.output.append(" ", kept_refusal(item));
    const name = item.answer && item.answer.field;
    const wrong = name && this.form.querySelector(`[name="${CSS.escape(name)}"]`);
    const first = wrong || this.form.querySelector("input:not([type=hidden]), select, textarea");
    if (first) first.focus();
  }

  /* It happened when it was written down first: that time is shown, and it can be changed. */
  time_of(item) {
    const at = this.form.querySelector('[data-type="at"]');
    if (!at) return;
    const then = new Date(item.at);
    if (!at.value && !(item.answer && item.answer.field === "at")) at.value = new Date(then - then.getTimezoneOffset() * 60000).toISOString().slice(0, 16);
    const closed = at.closest("details:not([open])");
    if (closed) closed.open = true;
  }

  unsay() {
    this.output.replaceChildren();
    delete this.output.dataset.how;
  }

  say(how, text) {
    this.output.dataset.how = how;
    this.output.replaceChildren(shape({ kept: "pencil", stored: "disc", held: "square" }[how]), ` ${text}`);
  }
}

const EVENTS = ["outbox:stored", "outbox:refused", "outbox:conflict", "outbox:discarded"];

/* What is typed goes over what is fixed, group by group. */
function over(fixed, typed) {
  const plain = (value) => value && typeof value === "object" && !Array.isArray(value);
  const whole = { ...fixed };
  for (const [key, value] of Object.entries(typed)) whole[key] = plain(value) && plain(whole[key]) ? over(whole[key], value) : value;
  return whole;
}

customElements.define("entry-form", EntryForm);
