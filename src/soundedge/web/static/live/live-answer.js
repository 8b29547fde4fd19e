/* <live-answer room="conditions" data-kind="air.read" data-ask='{"limits": …}'> asks the room while somebody types, and shows
   what the room says: its verdict in words and shape, its reason, the next move. The sentences are the room's own; the words
   round them stand in the page's templates.

   data-kind     the kind of the <entry-form> it listens to; data-form: the id of any other form; neither: it asks at once
   data-ask      what is asked beside what is typed, as JSON
   data-shape    how the typed body becomes the question (shapes below; a page may add its own)
   data-needs    keys that must be there before it asks
   data-tols     for the shape "air": the tolerance of each meter that has one, as JSON; the record judges with it too
   data-facts    inside: <dd data-key="dew_margin_k" data-factor data-offset data-digits data-unit> filled from the answer;
                 data-under="1" data-under-says="less than 1 s", data-over: words where a number says nothing  */

import { body_of } from "../outbox/form-body.js";
import { said } from "../outbox/words.js";

const PAUSE_MS = 450;

/* How typed values become a room's question; null says: not enough yet. */
export const shapes = {
  plain: (body) => body,
  air({ instrument, ...read }, element) {
    const tol = JSON.parse(element.dataset.tols || "{}")[instrument];
    return tol ? { ...read, tol_air_k: tol, tol_steel_k: tol } : read;
  },
  surface(body) {
    const asked = {};
    if (body.profile_um !== undefined) asked.profile_um = [body.profile_um];
    if (body.dust_rating !== undefined) asked.dust = { rating: body.dust_rating, ...(body.dust_size !== undefined ? { size: body.dust_size } : {}) };
    const salts = {};
    if (body.salt_us_cm !== undefined) salts.rise_us_cm = body.salt_us_cm;
    if (body.salt_water_ml !== undefined) salts.volume_ml = body.salt_water_ml;
    if (body.salts_mg_m2 !== undefined) salts.stated_mg_m2 = body.salts_mg_m2;
    if (("rise_us_cm" in salts && "volume_ml" in salts) || (Object.keys(salts).length === 1 && "stated_mg_m2" in salts)) asked.salts = salts;
    return Object.keys(asked).length ? asked : null;
  },
};

/* One question to one room. {status, json}: status 0 when there was no answer. */
export async function ask(room, question, signal) {
  try {
    const answer = await fetch(`/api/v1/ask/${room}`, {
      method: "POST", credentials: "same-origin", cache: "no-store", signal,
      headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": said("csrf") }, body: JSON.stringify(question),
    });
    const json = (answer.headers.get("Content-Type") || "").includes("json") ? await answer.json() : null;
    return { status: answer.status, json };
  } catch (fault) {
    if (fault.name === "AbortError") throw fault;
    return { status: 0, json: null };
  }
}

/* A number in the reader's units; a dash when the room gave none. */
export function number_in(element, value) {
  if (value === null || value === undefined) return "\u2013";
  const { factor = "1", offset = "0", digits = "0", unit = "" } = element.dataset;
  const shown = ((value - Number(offset)) / Number(factor)).toLocaleString(document.documentElement.lang || undefined,
    { minimumFractionDigits: Number(digits), maximumFractionDigits: Number(digits) }).replace("-", "\u2212");
  return unit ? `${shown}\u00a0${unit}` : shown;
}

class LiveAnswer extends HTMLElement {
  connectedCallback() {
    if (this.ready) return;
    this.ready = true;
    this.form = this.dataset.form ? document.getElementById(this.dataset.form) : document.querySelector(`entry-form[kind="${this.dataset.kind}"] form`);
    this.asked = JSON.parse(this.dataset.ask || "{}");
    this.number = 0;
    if (this.form) {
      for (const event of ["input", "change"]) this.form.addEventListener(event, () => this.soon());
      this.form.addEventListener("reset", () => this.show("waits"));
      this.form.addEventListener("submit", (event) => { if (this.dataset.form) { event.preventDefault(); this.soon(0); } });
      this.soon(0);
    } else if (!this.dataset.kind && !this.dataset.form) {
      this.now();
    }
    addEventListener("online", () => this.soon(0));
  }

  soon(ms = Number(this.dataset.pause || PAUSE_MS)) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.now(), ms);
  }

  question() {
    if (!this.form) return this.asked;
    const found = body_of(this.form);
    if (found.faults.some(({ word }) => word !== "required")) return null;
    for (const key of (this.dataset.needs || "").split(" ").filter(Boolean)) {
      if (key.split(".").reduce((at, name) => (at === undefined ? at : at[name]), found.body) === undefined) return null;
    }
    const shaped = shapes[this.dataset.shape || "plain"](found.body, this);
    return shaped && { ...this.asked, ...shaped };
  }

  async now() {
    const question = this.question();
    if (!question) return this.show("waits");
    this.number += 1;
    const number = this.number;
    if (this.running) this.running.abort();
    this.running = new AbortController();
    this.busy(true);
    let answer;
    try {
      answer = await ask(this.getAttribute("room"), question, this.running.signal);
    } catch {
      return; // a newer question took its place
    }
    if (number !== this.number) return;
    this.busy(false);
    if (answer.status === 200) this.answered(answer.json);
    else if (answer.status === 422 && answer.json) this.refused(answer.json);
    else this.show(answer.status === 0 ? "offline" : "none");
  }

  busy(on) {
    this.setAttribute("aria-busy", on ? "true" : "false");
  }

  part(name) { return this.querySelector(`[data-${name}]`); }

  show(word) {
    this.dataset.says = word;
    this.part("line").replaceChildren(this.word(word));
    for (const name of ["because", "next", "facts", "list"]) if (this.part(name)) this.part(name).hidden = true;
  }

  word(name) {
    const found = this.querySelector(`template[data-word="${CSS.escape(name)}"]`);
    return found ? found.content.cloneNode(true) : document.createTextNode("");
  }

  refused(problem) {
    this.show("refused");
    this.part("because").hidden = false;
    this.part("because").textContent = problem.detail;
    this.part("because").lang = document.documentElement.lang;
  }

  answered(json) {
    this.dataset.says = "answer";
    const verdict = json.verdict || "";
    const findings = json.findings || [];
    const first = findings.find((one) => one.verdict === verdict && verdict !== "conforms") || findings[0];
    this.part("line").replaceChildren(this.word(verdict || "answer"));
    this.set("because", json.because || (first && first.because) || "");
    this.set("next", (json.next_moves && json.next_moves[0]) || (first && first.next_move) || "");
    const facts = this.part("facts");
    if (facts) {
      facts.hidden = false;
      for (const one of facts.querySelectorAll("[data-key]")) one.textContent = this.fact(one, json);
    }
    const list = this.part("list");
    if (list) {
      const word = list.dataset.source;
      const lines = [...(json.warnings || []), ...(json.notes || []), ...(json.cautions || []),
        ...(word ? (json.sources || []).map((line) => `${word}: ${line}`) : [])];
      list.hidden = !lines.length;
      list.querySelector("ul").replaceChildren(...lines.map((line) => Object.assign(document.createElement("li"), { textContent: line, lang: "en" })));
    }
    this.dispatchEvent(new CustomEvent("live-answer", { bubbles: true, detail: json }));
  }

  fact(element, json) {
    const value = element.dataset.key.split(".").reduce((at, name) => (at === null || at === undefined ? at : at[name]), json);
    if (typeof value === "boolean" || typeof value === "string") {
      const found = element.querySelector(`template[data-value="${CSS.escape(String(value))}"]`) || this.querySelector(`template[data-value="${CSS.escape(String(value))}"]`);
      return found ? found.content.textContent : String(value).replaceAll("_", " ");
    }
    if (value === null && element.dataset.none) return element.dataset.none;
    const { under, over, underSays, overSays, before = "" } = element.dataset;
    if (under !== undefined && value < Number(under)) return underSays;
    if (over !== undefined && value >= Number(over)) return overSays;
    return before + number_in(element, value);
  }

  set(name, text) {
    const part = this.part(name);
    if (!part) return;
    part.textContent = text;
    part.lang = "en";
    part.hidden = !text;
  }
}

customElements.define("live-answer", LiveAnswer);
