/* <stated-voltage>: a typed voltage is asked of the room at once, zone by zone. The room judges; this page only shows.
   <holiday-test>: a hole tapped on the small map becomes a row of the form.                                            */

import { element, english } from "../outbox/elements.js";
import { number_of } from "../outbox/form-body.js";
import { said } from "../outbox/words.js";
import "../thickness/foot-plan.js";

class StatedVoltage extends HTMLElement {
  connectedCallback() {
    if (this.question) return;
    this.question = JSON.parse(this.dataset.question);
    this.words = this.querySelector("template[data-words]").content;
    this.live = this.querySelector("[data-live]");
    this.field = this.querySelector("input");
    this.asked = 0;
    this.querySelector("form").addEventListener("submit", (event) => { event.preventDefault(); this.ask(); });
    this.field.addEventListener("input", () => { clearTimeout(this.timer); this.timer = setTimeout(() => this.ask(), 350); });
    addEventListener("online", () => this.field.value.trim() && this.ask());
    if (this.field.value.trim()) this.ask();
  }

  word(name, values = {}) {
    const found = this.words.querySelector(`[data-word="${name}"]`);
    return (found ? found.textContent.trim() : name).replace(/\{(\w+)\}/g, (whole, key) => (key in values ? String(values[key]) : whole));
  }

  async ask() {
    this.asked += 1;
    const mine = this.asked;
    const text = this.field.value.trim();
    if (!text) return this.live.replaceChildren(element("p", this.word("type"), "may"));
    const volts = number_of(text);
    if (volts === null || volts < 5 || volts > 60000) return this.live.replaceChildren(element("p", this.word("not_number")));
    try {
      const answer = await fetch("/api/v1/ask/holiday", {
        method: "POST", cache: "no-store", credentials: "same-origin",
        headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": said("csrf") },
        body: JSON.stringify({ ...this.question.ground, zones: this.question.zones, stated_voltage_v: volts }),
      });
      const json = await answer.json();
      if (mine === this.asked) this.answered(json);
    } catch {
      if (mine === this.asked) this.live.replaceChildren(element("p", this.word("offline"), "notice"));
    }
  }

  answered(json) {
    if (!json.zones) return this.live.replaceChildren(element("p", json.detail || "", "said"));
    this.live.replaceChildren(...json.zones.flatMap((zone) => {
      const { stated } = zone;
      const head = element("h3", this.word(zone.zone));
      const word = element("p", "");
      const found = this.querySelector("template[data-verdicts]").content.querySelector(`[data-verdict="${zone.verdict}"]`);
      if (found) word.append(...found.cloneNode(true).childNodes);
      const parts = [head, word];
      if (stated) {
        word.append(` · ${this.word(stated.position || "unknown")}`);
        parts.push(english(stated.proves, "p"));
        parts.push(element("p", this.word("bridges", { um: Math.round(stated.bridges_um), kv: stated.stress_kv_mm.toFixed(1) }), "may"));
      }
      const wrong = zone.findings.find((one) => one.verdict !== "conforms");
      if (wrong) parts.push(english(wrong.because, "p"), ...(wrong.next_move ? [english(wrong.next_move, "p", "next-move")] : []));
      return parts;
    }));
    const sheet = document.querySelector(`a[href^="${CSS.escape(this.dataset.sheet)}"], a[href^="${this.dataset.sheet}"]`);
    if (sheet) sheet.href = `${this.dataset.sheet}?v=${encodeURIComponent(this.field.value.trim())}`;
  }
}

class HolidayTest extends HTMLElement {
  connectedCallback() {
    const list = this.querySelector("[data-list=holidays]");
    if (!list || this.list) return;
    this.list = list;
    const drawn = () => {
      const rows = [...list.querySelectorAll("div[data-row]")];
      const at = (row, name) => number_of(row.querySelector(`[name=${name}]`).value.trim());
      const plan = list.querySelector("foot-plan");
      if (plan && plan.svg) plan.marks = rows.map((row, i) => ({ x: at(row, "x"), y: at(row, "y"), name: String(i + 1) })).filter((one) => one.x !== null && one.y !== null);
      list.querySelector("[data-none]").hidden = rows.length > 0;
    };
    this.addEventListener("placed", (event) => {
      const plan = event.target;
      list.querySelector("[data-add]").click();
      const row = [...list.querySelectorAll("div[data-row]")].at(-1);
      row.querySelector("[name=x]").value = event.detail.x;
      row.querySelector("[name=y]").value = event.detail.y;
      plan.svg.focus();
      drawn();
    });
    this.addEventListener("input", drawn);
    this.addEventListener("click", () => setTimeout(drawn));
    this.addEventListener("entry-kept", () => setTimeout(drawn));
    drawn();
  }
}

customElements.define("stated-voltage", StatedVoltage);
customElements.define("holiday-test", HolidayTest);
