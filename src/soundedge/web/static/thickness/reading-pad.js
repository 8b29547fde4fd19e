/* <reading-pad job="…" data-question="…"> round its own markup: film readings with one gloved hand.

   A reading comes from the pad, from a gauge that types, from a cable or from a table, and goes into a draft on this device.
   The rules are asked by network with the question of the job's own step; nothing here judges more than one number by itself. */

import { element, english, kept_refusal, quiet_button } from "../outbox/elements.js";
import { number_of, in_house_units } from "../outbox/form-body.js";
import { outbox } from "../outbox/outbox.js";
import { say_anew } from "../outbox/rows.js";
import { said } from "../outbox/words.js";
import { Draft } from "./draft.js";
import { Cut, read_line, TO_UM } from "./gauge-line.js";
import "./foot-plan.js";

const SIGN = { um: "µm", mil: "mil", mm: "mm" };
const WAIT_MS = 350;

class ReadingPad extends HTMLElement {
  connectedCallback() {
    if (this.draft) return;
    this.job = this.getAttribute("job");
    this.question = JSON.parse(this.dataset.question);
    this.earlier = JSON.parse(this.dataset.earlier || "[]");
    this.words = this.querySelector("template[data-words]").content;
    this.draft = new Draft(this.dataset.repair ? `${this.job}/${this.dataset.repair}` : this.job, this.question.letters);
    this.typed = "";
    this.by_key = false;
    this.shown = null;
    this.asked = 0;
    this.answer = null;
    this.settings();
    this.listen();
    if (this.draft.n) this.say(this.word("draft", { n: this.draft.n }));
    this.render();
    this.ask_soon(0);
    this.refused_before();
  }

  // ------------------------------------------------------------------ words and parts

  word(name, values = {}) {
    const found = this.words.querySelector(`[data-word="${name}"]`);
    const text = found ? found.textContent.trim() : name;
    return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? String(values[key]) : whole));
  }

  part(name) { return this.querySelector(`[data-${name}]`); }
  show(name, text) { for (const one of this.querySelectorAll(`[data-show="${name}"]`)) one.textContent = text; }
  say(text) { this.part("says").textContent = text; }

  get unit() { return this.set.unit; }
  length(um) { return `${this.figure(um)}\u00a0${SIGN[this.unit]}`; }

  figure(um) {
    const value = um / TO_UM[this.unit];
    const digits = { um: 1, mil: 2, mm: 3 }[this.unit];
    return String(Number(value.toFixed(digits))).replace(".", document.documentElement.lang === "de" ? "," : ".");
  }

  // ------------------------------------------------------------------ settings that stay

  settings() {
    const fields = [...this.querySelectorAll("[data-set]")];
    const kept = this.draft.is.set;
    for (const field of fields) if (kept[field.dataset.set] !== undefined && (field.tagName !== "SELECT" || [...field.options].some((one) => one.value === kept[field.dataset.set]))) field.value = kept[field.dataset.set];
    this.set = {};
    const read = () => {
      for (const field of fields) this.set[field.dataset.set] = field.value;
      this.draft.is.set = { ...this.set };
      this.draft.save();
      this.render();
      this.ask_soon();
    };
    for (const field of fields) { this.set[field.dataset.set] = field.value; field.addEventListener("change", read); }
    let hand = "right";
    try { hand = localStorage.getItem("soundedge/hand") || "right"; } catch { /* the right hand, then */ }
    this.dataset.hand = hand;
  }

  get per_spot() { return Number(this.set.per_spot) || this.question.per_spot; }

  /* What is taken off, in µm; null when it is no number. */
  get correction() {
    const kind = this.set["correction.kind"];
    if (kind === "none") return { kind, value_um: 0, u_um: 0 };
    const values = ["correction.value_um", "correction.u_um"].map((name) => {
      const text = (this.set[name] || "").trim();
      const typed = text ? number_of(text) : 0;
      return typed === null ? null : in_house_units(typed, TO_UM[this.unit]);
    });
    return values.includes(null) ? null : { kind, value_um: values[0], u_um: values[1] };
  }

  // ------------------------------------------------------------------ fingers and keys

  listen() {
    this.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      if (button.dataset.key) this.press(button.dataset.key, false);
      if (button.dataset.do) this[`do_${button.dataset.do}`](button);
      if (button.dataset.spot) { this.draft.is.at = Number(button.dataset.spot); this.draft.save(); this.render(); this.part("says").scrollIntoView({ block: "center" }); }
    });
    this.keys = (event) => this.key(event);
    document.addEventListener("keydown", this.keys);
    for (const radio of this.querySelectorAll("input[name=zone]")) radio.addEventListener("change", () => { this.draft.zone(radio.value); this.render(); });
    for (const field of this.querySelectorAll("[data-at]")) field.addEventListener("change", () => this.placed());
    this.addEventListener("placed", (event) => {
      this.querySelector("[data-at=x]").value = event.detail.x;
      this.querySelector("[data-at=y]").value = event.detail.y;
      this.placed();
    });
    const line = this.part("line");
    line.addEventListener("keydown", (event) => {
      if ((event.key !== "Enter" && event.key !== "Tab") || !line.value.trim()) return;
      event.preventDefault();
      const text = line.value;
      line.value = "";
      this.line(text, this.part("ways-says"));
    });
    line.addEventListener("paste", (event) => {
      const text = event.clipboardData.getData("text");
      if (!/[\r\n]/.test(text)) return;
      event.preventDefault();
      for (const one of text.split(/\r\n|\n|\r/)) if (one.trim()) this.line(one, this.part("ways-says"));
    });
    this.part("table").addEventListener("change", (event) => this.file(event.target));
    if (navigator.serial) {
      this.part("cable").hidden = false;
      navigator.serial.addEventListener?.("disconnect", () => this.part("ways-says").textContent = this.word("gone_port"));
    }
    addEventListener("online", () => this.ask_soon(0));
    addEventListener("offline", () => this.render_live());
    addEventListener("storage", (event) => { if (event.key === this.draft.name) { this.draft.load(); this.render(); this.ask_soon(); } });
    for (const name of ["outbox:refused", "outbox:conflict"]) document.addEventListener(name, ({ detail }) => this.refused(detail.item));
  }

  /* A keyboard, or a gauge that types while no field has the cursor. */
  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
    const at = event.target;
    if (at.closest && at.closest("input:not([type=radio]), select, textarea, [contenteditable], svg, dialog")) return;
    if (at !== document.body && at.id !== "main" && !this.contains(at)) return;
    if (/^[0-9.,]$/.test(event.key) || (this.by_key && this.typed && /^[-;µμmicrolsn ]$/i.test(event.key))) { event.preventDefault(); this.press(event.key, true); }
    else if (event.key === "Backspace" && this.typed) { event.preventDefault(); this.press("back", true); }
    else if (event.key === "Escape" && this.typed) { this.typed = ""; this.shown = null; this.render_head(); }
    else if (event.key === "Enter" && this.by_key && this.typed) { event.preventDefault(); this.press("enter", true); }
  }

  press(key, by_key) {
    if (key === "enter") {
      const text = this.typed;
      this.typed = "";
      this.by_key = false;
      if (!text) return this.say(this.word("type_first"));
      return this.line(text, this.part("says"), true);
    }
    if (key === "back") this.typed = this.typed.slice(0, -1);
    else if (this.typed.length < 60) this.typed += key;
    this.by_key = by_key;
    this.shown = null;
    this.render_head();
  }

  /* One line of readings, wherever it came from. True when something was taken. */
  line(text, says, by_hand = false) {
    const read = read_line(text, this.unit);
    if (read.fault) {
      says.textContent = this.word(read.fault, { text: read.text });
      if (!by_hand) this.aside(`${read.text}: ${this.word(read.fault, { text: read.text })}`);
      this.shown = null;
      this.render_head();
      return false;
    }
    let spot;
    for (const value of read.values_um) {
      spot = this.draft.take(value, this.per_spot);
      this.shown = value;
    }
    const took = this.word("took", { value: this.length(read.values_um.at(-1)), spot: spot.id });
    const alone = this.alone(read.values_um.at(-1));
    says.textContent = `${took}${alone ? `: ${this.word(alone)}` : ""}.`;
    if (says !== this.part("says")) this.say(says.textContent);
    if (!this.draft.kept) this.say(this.word("not_kept_draft"));
    this.render();
    this.ask_soon();
    return true;
  }

  aside(text) {
    this.draft.is.aside.push(text.slice(0, 300));
    this.draft.save();
    this.render_aside();
  }

  /* One reading against the limits, by itself. It is no verdict. */
  alone(um) {
    const film = um - (this.correction ? this.correction.value_um : 0);
    const { min_um, max_um } = this.question;
    if (min_um !== null && film < min_um) return "thin";
    if (max_um !== null && film > max_um) return "thick";
    return "";
  }

  placed() {
    const [x, y] = ["x", "y"].map((name) => number_of(this.querySelector(`[data-at=${name}]`).value.trim()));
    if (x !== null && y !== null) Object.assign(this.draft.spot, { x, y });
    else { delete this.draft.spot.x; delete this.draft.spot.y; }
    this.draft.save();
    this.render();
  }

  // ------------------------------------------------------------------ buttons

  do_undo() {
    const gone = this.draft.undo();
    this.shown = null;
    this.typed = "";
    this.say(gone ? this.word("undone", { value: this.length(gone.value), spot: gone.id }) : this.word("nothing"));
    this.render();
    this.ask_soon();
  }

  do_next() { this.draft.next(this.draft.spot.where); this.shown = null; this.render(); }

  do_hand() {
    this.dataset.hand = this.dataset.hand === "left" ? "right" : "left";
    try { localStorage.setItem("soundedge/hand", this.dataset.hand); } catch { /* for this page only */ }
  }

  do_again() { this.draft.add(this.earlier); this.render(); }
  do_forget() { this.draft.is.aside = []; this.draft.is.file = null; this.draft.save(); this.render_aside(); }

  do_empty(button) {
    const sure = this.querySelector("template[data-sure]").content.firstElementChild.cloneNode(true);
    sure.querySelector("[data-yes]").addEventListener("click", () => { this.draft.clear(); sure.remove(); this.answer = null; this.render(); this.render_live(); button.focus(); });
    sure.querySelector("[data-no]").addEventListener("click", () => { sure.remove(); button.focus(); });
    this.part("end").replaceChildren(sure);
    sure.querySelector("[data-no]").focus();
  }

  async do_complete() {
    const end = this.part("end");
    if (!this.draft.n) return (end.textContent = this.word("need_reading"));
    if (!this.set.instrument) return (end.textContent = this.word("need_gauge"));
    if (!this.correction) return (end.textContent = this.word("bad_off"));
    if (this.busy) return;
    this.busy = true;
    const n = this.draft.n;
    const body = { instrument: this.set.instrument, spots: this.spots(), correction: this.correction };
    if (this.dataset.repair) body.repair = this.dataset.repair;
    if (this.draft.is.file) body.file = this.draft.is.file;
    if (this.draft.is.aside.length) body.set_aside = this.draft.is.aside;
    const lines = [...body.spots.map((spot) => [spot.id, `${this.word(spot.where)}: ${spot.readings_um.map((um) => this.length(um)).join(" · ")}`]),
      ["", this.word("setting", { gauge: body.instrument, unit: SIGN[this.unit], per: this.per_spot, off: this.length(body.correction.value_um) })]];
    try {
      await outbox.put({ job: this.job, kind: "film.measured", body, lines, replaces: this.draft.is.replaces });
      this.draft.clear();
      this.answer = null;
      this.shown = null;
      this.render();
      this.render_live();
      end.textContent = this.word("written", { n });
    } catch (fault) {
      end.textContent = `${this.word("not_kept_draft")} ${(fault && fault.message) || ""}`;
    } finally { this.busy = false; }
  }

  spots() {
    return this.draft.read.map(({ id, where, readings_um, x, y }) => ({ id, where, readings_um, ...(x === undefined ? {} : { x, y }) }));
  }

  // ------------------------------------------------------------------ cable and table

  async do_cable(button) {
    const says = this.part("ways-says");
    if (this.port) { this.closing = true; await this.reader?.cancel().catch(() => {}); return; }
    try {
      this.port = await navigator.serial.requestPort();
    } catch { says.textContent = this.word("no_port"); return; }
    try {
      await this.port.open({ baudRate: Number(this.part("baud").value), dataBits: 8, parity: "none", stopBits: 1, flowControl: "none" });
    } catch (fault) {
      this.port = null;
      says.textContent = this.word("busy_port", { why: (fault && fault.message) || "" });
      return;
    }
    this.closing = false;
    button.textContent = this.word("disconnect");
    says.textContent = this.word("connected");
    const cut = new Cut();
    const decoder = new TextDecoder("utf-8");
    try {
      this.reader = this.port.readable.getReader();
      for (;;) {
        const { value, done } = await this.reader.read();
        if (done) break;
        for (const line of cut.feed(decoder.decode(value, { stream: true }))) this.line(line, says);
      }
    } catch { this.closing = false; }
    for (const line of cut.end()) this.line(line, says);
    try { this.reader.releaseLock(); await this.port.close(); } catch { /* it is gone already */ }
    if (!this.closing) says.textContent = this.word("gone_port");
    this.port = null;
    button.textContent = this.word("connect");
  }

  async file(field) {
    const says = this.part("ways-says");
    const chosen = field.files[0];
    if (!chosen) return;
    const form = new FormData();
    form.append("file", chosen);
    try {
      let answer = await this.post_file(form);
      if (answer.kind === "missing" && answer.field === "file.unit") { // the table names no unit: the one of the gauge
        form.set("unit", this.unit);
        answer = await this.post_file(form);
      }
      if (!answer.spots) { says.replaceChildren(answer.detail || ""); return; }
      this.draft.is.file = answer.file;
      this.draft.is.aside.push(...answer.set_aside);
      this.draft.add(answer.spots);
      says.textContent = this.word("file_read", { n: answer.spots.reduce((sum, spot) => sum + spot.readings_um.length, 0), spots: answer.spots.length, file: answer.file, aside: answer.set_aside.length });
      this.render();
      this.render_aside();
      this.ask_soon();
    } catch { says.textContent = this.word("file_offline"); } finally { field.value = ""; }
  }

  async post_file(form) {
    const answer = await fetch(this.dataset.file, { method: "POST", body: form, headers: { "X-CSRFToken": said("csrf"), Accept: "application/json" }, credentials: "same-origin" });
    return answer.json();
  }

  // ------------------------------------------------------------------ the rules

  ask_soon(ms = WAIT_MS) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.ask(), ms);
  }

  async ask() {
    this.asked += 1;
    const mine = this.asked;
    if (!this.draft.n || !this.correction) { this.answer = null; this.trouble = this.correction ? "" : "bad_off"; return this.render_live(); }
    const request = { ...this.question.ask, spots: this.spots(), correction: this.correction, gauge: this.question.gauges[this.set.instrument] || { tol_pct: 3, tol_um: 0 } };
    try {
      const answer = await fetch("/api/v1/ask/thickness", {
        method: "POST", body: JSON.stringify(request), cache: "no-store", credentials: "same-origin",
        headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": said("csrf") },
      });
      const json = await answer.json();
      if (mine !== this.asked) return;
      this.answer = json;
      this.trouble = "";
    } catch {
      if (mine !== this.asked) return;
      this.answer = null;
      this.trouble = "offline";
    }
    this.render_live();
    this.render_spots();
  }

  render_live() {
    const box = this.part("live");
    const brief = this.part("brief");
    if (!this.draft.n) { box.replaceChildren(element("p", this.word("none"), "may")); brief.replaceChildren(); return; }
    if (this.trouble === "bad_off") { box.replaceChildren(element("p", this.word("bad_off"))); brief.replaceChildren(); return; }
    if (!this.answer || !navigator.onLine) {
      const films = this.draft.read.flatMap((spot) => spot.readings_um.map((um) => this.alone(um)));
      const [thin, thick] = ["thin", "thick"].map((name) => films.filter((one) => one === name).length);
      const lines = [thin ? this.word("alone_thin", { n: thin }) : "", thick ? this.word("alone_thick", { n: thick }) : ""].filter(Boolean);
      if (!lines.length) lines.push(this.word("alone_good"));
      const first = this.trouble === "offline" || !navigator.onLine ? this.word("offline") : this.word("asking");
      box.replaceChildren(element("p", lines.join(" ")), element("p", first, "notice"));
      brief.replaceChildren(element("p", lines.join(" ")));
      return;
    }
    if (!this.answer.verdict) { box.replaceChildren(element("p", this.answer.detail || "", "said")); brief.replaceChildren(); return; }
    const { by_rule: rules, governing } = this.answer;
    const first = rules[governing];
    brief.replaceChildren(this.verdict(first.verdict, this.answer.remeasure));
    const rest = Object.keys(rules).filter((name) => name !== governing);
    const others = this.folded("others", rest.flatMap((name) => this.rule(name)));
    const proof = [];
    if (this.answer.thin_fraction_upper_95 !== null) proof.push(element("p", this.word("share", { n: this.answer.n, pct: Math.ceil(100 * this.answer.thin_fraction_upper_95) })));
    if (this.answer.lower_tolerance_95_95_um !== null) proof.push(element("p", this.word("tolerance", { value: this.length(this.answer.lower_tolerance_95_95_um) })));
    proof.push(...this.answer.proves.map((line) => english(line, "p")));
    say_anew(box, [...this.rule(governing, true), others, this.folded("unproven", proof)]);
  }

  verdict(name, again = []) {
    const line = document.createElement("p");
    const found = this.querySelector("template[data-verdicts]").content.querySelector(`[data-verdict="${name}"]`);
    if (found) line.append(...found.cloneNode(true).childNodes);
    if (again.length) line.append(` · ${again.join(", ")}: ${this.word("again")}`);
    return line;
  }

  rule(name, governs = false) {
    const rule = this.answer.by_rule[name];
    const head = element("p", "");
    head.append(element("strong", this.question.titles?.[name] || rule.title), governs ? ` · ${this.word("decides")}` : "");
    const parts = [head, this.verdict(rule.verdict, governs ? this.answer.remeasure : []), english(rule.because, "p")];
    if (rule.next_move) parts.push(english(rule.next_move, "p", "next-move"));
    return parts;
  }

  folded(name, parts) {
    const details = this.querySelector(`[data-fold="${name}"]`) || document.createElement("details");
    details.dataset.fold = name;
    say_anew(details, [element("summary", this.word(name)), ...parts]);
    return details;
  }

  // ------------------------------------------------------------------ what is seen

  render() { this.render_head(); this.render_spots(); this.render_aside(); if (!this.answer) this.render_live(); }

  render_head() {
    const { spot } = this.draft;
    this.show("spot", spot.id);
    this.show("zone", this.word(spot.where));
    this.show("nth", this.word("nth", { k: spot.readings_um.length + 1, n: Math.max(this.per_spot, spot.readings_um.length + 1) }));
    this.show("value", this.typed || (this.shown === null ? "–" : this.figure(this.shown)));
    this.show("unit", SIGN[this.unit]);
    this.show("place", spot.x === undefined ? this.word("no_place") : `x ${spot.x}, y ${spot.y} mm`);
    const { correction } = this;
    this.show("setting", this.word("setting", { gauge: this.set.instrument || "–", unit: SIGN[this.unit], per: this.per_spot,
      off: correction && correction.value_um ? this.word("off", { value: this.length(correction.value_um) }) : this.word("nothing_off") }));
    for (const radio of this.querySelectorAll("input[name=zone]")) radio.checked = radio.value === spot.where;
    for (const name of ["x", "y"]) {
      const field = this.querySelector(`[data-at=${name}]`);
      if (document.activeElement !== field) field.value = spot[name] === undefined ? "" : spot[name];
    }
    const plan = this.querySelector("foot-plan");
    if (plan && plan.svg) plan.marks = this.draft.is.spots.filter((one) => one.x !== undefined).map(({ x, y, id }) => ({ x, y, name: id }));
  }

  render_spots() {
    const again = (this.answer && this.answer.remeasure) || [];
    this.show("count", this.word("count", { n: this.draft.n, spots: this.draft.read.length }));
    say_anew(this.part("spots"), this.draft.is.spots.map((spot, i) => {
      const line = document.createElement("li");
      line.dataset.id = spot.id;
      if (i === this.draft.is.at) line.setAttribute("aria-current", "step");
      const name = element("strong", `${spot.id}`);
      line.append(name, ` ${this.word(spot.where)}${spot.x === undefined ? "" : `, x ${spot.x}, y ${spot.y}`}: `);
      spot.readings_um.forEach((um, k) => {
        const one = element("span", this.figure(um), "one");
        const alone = this.alone(um);
        if (alone) { one.classList.add("out"); one.append(element("span", ` (${this.word(alone)})`)); }
        line.append(k ? " · " : "", one);
      });
      if (!spot.readings_um.length) line.append("–");
      if (again.includes(spot.id)) line.append(" ", element("strong", `▪ ${this.word("again")}`, "again"));
      if (i !== this.draft.is.at) {
        const go = element("button", this.word("rename"), "quiet");
        go.type = "button";
        go.dataset.spot = i;
        go.setAttribute("aria-label", `${spot.id}: ${this.word("rename")}`);
        line.append(" ", go);
      }
      return line;
    }));
  }

  render_aside() {
    this.part("aside").hidden = !this.draft.is.aside.length;
    this.part("aside-list").replaceChildren(...this.draft.is.aside.map((one) => element("li", one)));
  }

  // ------------------------------------------------------------------ not taken by the bench

  takes(item) { return item.job === this.job && item.kind === "film.measured" && Boolean(item.body.spots); }

  async refused_before() {
    const [found] = await outbox.not_taken(this.job, "film.measured").catch(() => []);
    if (found) this.refused(found);
  }

  refused(item) {
    if (!item || !this.takes(item) || this.draft.is.replaces === item.key) return;
    this.part("end").replaceChildren(kept_refusal(item, "p", "said"), quiet_button(this.word("take_back"), () => this.take_back(item)));
  }

  take_back(item) {
    this.draft.add(item.body.spots);
    this.draft.is.aside = item.body.set_aside || [];
    this.draft.is.replaces = item.key;
    this.draft.save();
    this.part("end").replaceChildren();
    this.render();
    this.ask_soon();
  }
}

customElements.define("reading-pad", ReadingPad);
