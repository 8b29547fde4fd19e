/* <before-act data-job data-at="when the bench said it"> holds what may be done: paragraphs and lines with data-answer, and with
   data-until where a yes ends. Here, with or without network:

   the time of data-until is over     the sentence is struck out, and it says so
   this device's clock is behind it   a yes is struck out, and it says why
   entries of this job wait here,
   whoever made them                  a yes is struck out, and it says what is not judged yet
   an entry was taken by the bench    the page's own state is asked for again (repaint.js)                                */

import { outbox } from "../outbox/outbox.js";
import { counted, kind_named, moment, said, word } from "../outbox/words.js";
import { repaint } from "./repaint.js";

const LOOK_MS = 15000;
const CLOCK_MS = 60000; // so far a clock may be behind

class BeforeAct extends HTMLElement {
  connectedCallback() {
    this.at = Date.parse(this.dataset.at);
    this.kept = Boolean(document.documentElement.dataset.keptAt) && !this.dataset.fresh;
    this.begun = this.dataset.fresh ? { date: Date.now(), tick: performance.now() } : { date: performance.timeOrigin, tick: 0 };
    this.leave = new AbortController();
    const { signal } = this.leave;
    for (const name of ["outbox:kept", "outbox:counted", "outbox:discarded"]) document.addEventListener(name, () => this.look(), { signal });
    document.addEventListener("outbox:stored", ({ detail }) => { if (detail.item.job === this.dataset.job) repaint(); }, { signal });
    document.addEventListener("visibilitychange", () => this.look(), { signal });
    addEventListener("pageshow", () => this.look(), { signal });
    if (this.kept) addEventListener("online", () => repaint(), { signal });
    this.timer = setInterval(() => this.look(), LOOK_MS);
    this.look();
  }

  disconnectedCallback() {
    clearInterval(this.timer);
    this.leave?.abort();
  }

  /* Now: of a page from the bench its own time and what has gone since, by the clock that went further (one stops while a device
     sleeps); of a copy the clock of this device. */
  now() {
    if (this.kept) return Date.now();
    return this.at + Math.max(performance.now() - this.begun.tick, Date.now() - this.begun.date);
  }

  async look() {
    const waiting = (await outbox.all().catch(() => [])).filter((item) => item.job === this.dataset.job && item.shop === said("shop"));
    const behind = this.kept && Date.now() < this.at - CLOCK_MS;
    let ended = false;
    for (const line of this.querySelectorAll("[data-answer]")) {
      const until = Date.parse(line.dataset.until);
      const over = until <= this.now();
      if (line.dataset.answer === "no" || !(over || behind || waiting.length)) { this.again(line); continue; }
      ended = ended || (over && !line.dataset.over);
      if (over) line.dataset.over = "1";
      this.strike(line, over ? word("act_over") : behind ? word("act_clock") : "");
    }
    const last = waiting.at(-1);
    const note = this.querySelector("[data-waiting]");
    note.hidden = !last;
    if (last) note.textContent = counted("act_since", waiting.length, { what: kind_named(last.kind).label, at: moment(last.at) });
    if (ended && !waiting.length) repaint();
  }

  strike(line, why) {
    line.classList.add("over");
    if (!why) return;
    let words = line.querySelector("strong[data-why]");
    if (!words) {
      words = document.createElement("strong");
      words.dataset.why = "";
      line.append(words);
    }
    if (words.textContent !== why) words.textContent = why;
  }

  again(line) {
    line.classList.remove("over");
    line.querySelector("strong[data-why]")?.remove();
  }
}

customElements.define("before-act", BeforeAct);
