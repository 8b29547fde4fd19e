/* <word-clock data-until="2031-05-04T15:10:00Z"> says in words how long until then, or since then (data-since), by this device's
   clock: it needs no network. Its words stand in its templates: left, over, since, minute, minutes, hour, hours. The sentence is
   written anew when its minutes change, so a reading voice hears it at most once a minute.                              */

import { paint } from "../outbox/elements.js";

class WordClock extends HTMLElement {
  connectedCallback() {
    if (this.timer) return;
    this.line = this.querySelector("[data-line]");
    this.timer = setInterval(() => this.tell(), 1000);
    this.tell();
  }

  disconnectedCallback() {
    clearInterval(this.timer);
    this.timer = 0;
  }

  static get observedAttributes() { return ["data-until", "data-since"]; }

  attributeChangedCallback() { if (this.line) this.tell(); }

  word(name) {
    const found = this.querySelector(`template[data-word="${name}"]`);
    return found ? found.content.textContent.trim().replace(/\s+/g, " ") : "";
  }

  words_of(minutes) {
    const hours = Math.floor(minutes / 60);
    const rest = minutes - 60 * hours;
    const say = (n, one, many) => this.word(n === 1 ? one : many).replace("{n}", n);
    const parts = [];
    if (hours) parts.push(say(hours, "hour", "hours"));
    if (rest || !hours) parts.push(say(rest, "minute", "minutes"));
    return parts.join(" ");
  }

  tell() {
    const { until, since } = this.dataset;
    const at = Date.parse(until || since || "");
    if (Number.isNaN(at)) return this.say(this.word("none"), "none");
    const gone = (Date.now() - at) / 60000;
    if (!until) return this.say(this.word("since").replace("{time}", this.words_of(Math.max(0, Math.floor(gone)))), "since");
    const word = gone >= 0 ? "over" : "left";
    this.say(this.word(word).replace("{time}", this.words_of(gone >= 0 ? Math.floor(gone) : Math.ceil(-gone))), word);
  }

  say(text, state) {
    if (this.dataset.state !== state) this.dataset.state = state;
    const shape = this.querySelector("[data-shape]");
    if (shape) paint(shape, { left: "hourglass", over: "disc", since: "hourglass", none: "dash" }[state]);
    if (this.line.textContent !== text) this.line.textContent = text;
  }
}

customElements.define("word-clock", WordClock);

/* Moments of the page as the people of this place write them. */
for (const one of document.querySelectorAll("time[data-local]")) {
  const at = new Date(one.dateTime);
  if (Number.isNaN(at.getTime())) continue;
  one.textContent = at.toLocaleString(document.documentElement.lang || undefined, { dateStyle: "medium", timeStyle: "short", hourCycle: "h23" });
}
