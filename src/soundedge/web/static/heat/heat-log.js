/* <heat-log data-job data-log data-plan>: the time runs, a reading is typed, one large button keeps it with the moment it was
   pressed. Each reading is on this device before anything is asked of the bench; the whole log becomes one entry when it is ended.
   Advice and verdict are the heat room's own; without network there is none, and it says so.                            */

import { element, kept_refusal, quiet_button } from "../outbox/elements.js";
import { body_of, label_of } from "../outbox/form-body.js";
import { outbox } from "../outbox/outbox.js";
import { word } from "../outbox/words.js";
import { ask } from "../live/live-answer.js";
import { change_draft, draft_of } from "./draft.js";
import { clock_of } from "./heat-chart.js";

const LONGEST_S = 86400;

class HeatLog extends HTMLElement {
  async connectedCallback() {
    if (this.form) return;
    this.form = this.querySelector("[data-reading]");
    this.job = this.dataset.job;
    this.repair = this.dataset.repair || "";
    this.place = this.repair ? `${this.job}/${this.repair}` : this.job; // a log of one repair never becomes that of another
    this.log_ask = JSON.parse(this.dataset.log);
    this.plan_ask = this.dataset.plan ? JSON.parse(this.dataset.plan) : null;
    this.asked = 0;
    this.part("start").addEventListener("click", () => this.start());
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.keep(); });
    this.form.addEventListener("input", () => { clearTimeout(this.soon); this.soon = setTimeout(() => this.correct(), 350); });
    this.part("undo").addEventListener("click", () => this.undo());
    this.part("end").addEventListener("click", () => { this.part("sure").hidden = false; this.part("yes").focus(); });
    this.part("no").addEventListener("click", () => { this.part("sure").hidden = true; this.part("end").focus(); });
    this.part("yes").addEventListener("click", () => this.end());
    for (const name of ["outbox:refused", "outbox:conflict"]) document.addEventListener(name, ({ detail }) => this.refused(detail.item));
    document.addEventListener("outbox:discarded", ({ detail }) => { if (this.takes(detail.item)) this.part("refused").hidden = true; });
    this.timer = setInterval(() => this.tick(), 500);
    addEventListener("online", () => this.judge());
    try {
      this.draft = await draft_of(this.place);
    } catch {
      this.say("kept", this.word("not_kept"));
    }
    this.show();
    if (this.draft) this.judge();
    this.refused((await outbox.not_taken(this.job, "heat.logged").catch(() => []))[0]);
  }

  disconnectedCallback() { clearInterval(this.timer); }

  part(name) { return this.querySelector(`[data-${name}]`); }

  word(name, values = {}) {
    const text = this.querySelector(`:scope > template[data-word="${name}"]`).content.textContent.trim().replace(/\s+/g, " ");
    return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? values[key] : whole));
  }

  say(name, text) { this.part(name).textContent = text; }

  shown(c) {
    return `${Math.round((c - Number(this.dataset.offset)) / Number(this.dataset.factor))}\u00a0${this.dataset.unit}`;
  }

  seconds() { return Math.max(0, (Date.now() - Date.parse(this.draft.began_at)) / 1000); }

  tick() {
    if (!this.draft || this.draft.replaces) return;
    const text = clock_of(this.seconds());
    if (this.part("time").textContent !== text) this.part("time").textContent = text;
  }

  async start() {
    try {
      this.draft = await change_draft(this.place, (held) => held || { began_at: new Date().toISOString(), readings: [], instrument: this.part("instrument").value, heated_from: this.part("heated").value });
    } catch {
      return this.say("advice", this.word("not_kept"));
    }
    this.show();
    this.say("advice", this.word("began"));
    this.form.querySelector("[name=reading_c]").focus();
  }

  async keep() {
    const time_s = Math.round(Math.min(this.seconds(), LONGEST_S));
    const found = body_of(this.form);
    const field = this.form.querySelector("[name=reading_c]");
    field.toggleAttribute("aria-invalid", false);
    if (found.faults.length) {
      field.setAttribute("aria-invalid", "true");
      field.focus();
      return this.say("kept", this.word("not_a_number"));
    }
    const old = this.draft.replaces ? this.draft.readings[this.correcting] : null; // a reading that is put right keeps its time
    const row = { time_s: old ? old.time_s : time_s, ...found.body };
    const with_it = (readings) => (old ? readings.map((one, i) => (i === this.correcting ? row : one)) : [...readings, row]);
    try {
      this.draft = await change_draft(this.place, (held) => ({ ...(held || this.draft), readings: with_it((held || this.draft).readings) }));
    } catch {
      return this.say("kept", this.word("not_kept"));
    }
    this.correcting = null;
    field.value = "";
    if (!old) field.focus();
    this.say("true", "");
    this.say("kept", this.word("kept", { time: clock_of(row.time_s) }));
    this.show();
    this.judge();
  }

  async undo() {
    this.draft = await change_draft(this.place, (held) => held && { ...held, readings: held.readings.slice(0, -1) });
    this.show();
    this.judge();
  }

  async end() {
    const { readings, replaces, at } = this.draft;
    const instrument = replaces ? this.part("instrument").value : this.draft.instrument;
    const side = this.heated();
    const tool = [["instrument", instrument], ["heated", side]].filter(([, value]) => value).map(
      ([name]) => [label_of(this.part(name)), name === "heated" ? this.word(`from_${side}`) : instrument]);
    const lines = [...tool, ...readings.map((row, i) => [String(i + 1), this.line(row)])];
    const brief = [...tool, ...this.brief(readings)];
    this.part("yes").disabled = true;
    try {
      await outbox.put({
        job: this.job, kind: "heat.logged", body: { readings, ...(this.repair ? { repair: this.repair } : {}), ...(instrument ? { instrument } : {}), ...(side ? { heated_from: side } : {}) }, lines, brief, replaces, at,
      });
      await change_draft(this.place, () => null);
    } catch {
      return this.say("advice", this.word("not_kept"));
    } finally {
      this.part("yes").disabled = false;
    }
    this.draft = null;
    this.show();
    this.say("advice", this.word("written"));
    this.say("time", "0:00");
    this.part("start").focus();
  }

  show() {
    const on = Boolean(this.draft);
    const readings = on ? this.draft.readings : [];
    const again = on && Boolean(this.draft.replaces); // a log that was not taken: its readings are put right, none is added
    this.part("start-box").hidden = on && !again;
    this.part("start").hidden = again;
    this.form.hidden = !on || (again && !Number.isInteger(this.correcting));
    this.part("kept-box").hidden = !readings.length;
    this.part("sure").hidden = true;
    if (!on) this.part("advice-because").hidden = true;
    this.part("rows").replaceChildren(...readings.map((row, i) => {
      const line = element("li", this.line(row));
      if (again) line.append(" ", this.button("correct", this.line(row), () => this.correct_row(i)), " ", this.button("take_out", this.line(row), () => this.take_out(i)));
      return line;
    }).reverse());
    const chart = this.querySelector("heat-chart");
    if (chart.draw) chart.draw(readings);
    this.tick();
  }

  /* A log in four lines: how it began and ended, and how far it went. */
  brief(readings) {
    const by_heat = [...readings].sort((a, b) => a.reading_c - b.reading_c);
    return [["first", readings[0]], ["last", readings.at(-1)], ["coldest", by_heat[0]], ["hottest", by_heat.at(-1)]].map(([name, row]) => [this.word(name), this.line(row)]);
  }

  line(row) {
    return this.word("row", { time: clock_of(row.time_s), c: this.shown(row.reading_c), aim: this.word(row.aimed_at), e: row.emissivity_set ?? 0.95 });
  }

  button(name, of, does) {
    const one = quiet_button(this.word(name), does);
    one.setAttribute("aria-label", `${this.word(name)}: ${of}`);
    return one;
  }

  // ------------------------------------------------------------------ not taken by the bench
  takes(item) { return item.job === this.job && item.kind === "heat.logged"; }

  refused(item) {
    if (!item || !this.takes(item) || (this.draft && this.draft.replaces === item.key)) return;
    this.part("refused").replaceChildren(kept_refusal(item, "p"), quiet_button(this.word("take_back"), () => this.take_back(item)));
    this.part("refused").hidden = false;
  }

  /* The side the heat comes from: as it was when the log began, or as it is put right now. */
  heated() {
    return this.draft && !this.draft.replaces ? this.draft.heated_from || "" : this.part("heated").value;
  }

  /* The log as it was written down, to be put right; a log that runs now is ended first. */
  async take_back(item) {
    if (this.draft && !this.draft.replaces) return this.say("advice", this.word("end_first"));
    const { readings = [], instrument = "", heated_from = "" } = item.body;
    const at = item.answer && item.answer.field === "at" ? undefined : item.at;
    try {
      this.draft = await change_draft(this.place, () => ({ began_at: item.at, at, readings, instrument, heated_from, replaces: item.key }));
    } catch {
      return this.say("advice", this.word("not_kept"));
    }
    this.part("instrument").value = instrument;
    this.part("heated").value = heated_from;
    this.part("refused").hidden = true;
    this.say("advice", word("correct_now"));
    this.show();
    this.judge();
    this.part("kept-box").scrollIntoView({ block: "nearest" });
  }

  correct_row(i) {
    const row = this.draft.readings[i];
    this.correcting = i;
    this.show();
    const fields = this.form.elements;
    fields.reading_c.value = Number(((row.reading_c - Number(this.dataset.offset)) / Number(this.dataset.factor)).toFixed(3));
    fields.aimed_at.value = row.aimed_at;
    fields.emissivity_set.value = row.emissivity_set ?? "";
    fields.reading_c.focus();
  }

  async take_out(i) {
    this.draft = await change_draft(this.place, (held) => held && { ...held, readings: held.readings.filter((_, at) => at !== i) });
    this.correcting = null;
    this.show();
    this.judge();
  }

  /* What the typed reading means, before it is kept. */
  async correct() {
    const found = body_of(this.form);
    if (found.faults.length || found.body.aimed_at === "back_contact") return this.say("true", "");
    const { reading_c, emissivity_set, aimed_at } = found.body;
    const around = this.log_ask.ambient_c;
    const answer = await ask("heat", { infrared: { reading_c, aimed_at, ...(emissivity_set ? { emissivity_set } : {}), ...(around !== undefined ? { surroundings_c: around } : {}) } });
    if (answer.status !== 200) return this.say("true", answer.json ? answer.json.detail : "");
    const { true_c, true_low_c, true_high_c, useful, because } = answer.json;
    const name = true_low_c === null ? "true_alone" : "true";
    this.say("true", this.word(name, { c: this.shown(true_c), low: this.shown(true_low_c ?? 0), high: this.shown(true_high_c ?? 0) }));
    if (!useful) this.part("true").append(` ${because}`);
  }

  /* What the readings so far say: the verdict of the log, and the advice where there is a plan. */
  async judge() {
    if (!this.draft || !this.draft.readings.length) return;
    this.asked += 1;
    const number = this.asked;
    const readings = this.draft.readings;
    const log = await ask("heat", { ...this.log_ask, ...(this.heated() ? { heated_from: this.heated() } : {}), log: readings });
    if (number !== this.asked) return;
    if (log.status === 200) {
      this.part("log-line").replaceChildren(this.querySelector(`:scope > template[data-word="${log.json.verdict}"]`).content.cloneNode(true));
      this.say("log-because", log.json.because);
      this.part("log-because").lang = "en";
    } else {
      this.part("log-line").textContent = "";
      this.say("log-because", log.json ? log.json.detail : "");
      this.part("log-because").lang = document.documentElement.lang;
    }
    if (!this.plan_ask) return this.say("advice", this.word("no_plan"));
    const learn = await ask("heat", { ...this.plan_ask, readings });
    if (number !== this.asked || !this.draft) return;
    const because = this.part("advice-because");
    because.hidden = learn.status === 0;
    because.lang = learn.status === 200 ? "en" : document.documentElement.lang;
    this.part("advice-box").dataset.says = learn.status === 200 ? learn.json.advice : "";
    if (learn.status === 200) {
      this.say("advice", this.word(learn.json.advice));
      because.textContent = `${learn.json.because} ${learn.json.says}`;
    } else {
      this.say("advice", learn.status === 0 ? this.word("offline") : "");
      because.textContent = learn.json ? learn.json.detail : "";
    }
  }
}

customElements.define("heat-log", HeatLog);
