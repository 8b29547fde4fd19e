/* <placement-map data-job data-plan data-layer>: the placements of one layer, ticked off one after the other on the map, in the
   list, or with the one large button. The ticks stay on this device for each plan and layer; another outline is another plan. All
   words stand in the page: the place in words is the list's own line.                                                   */

import { paint } from "../outbox/elements.js";
import { said } from "../outbox/words.js";

class PlacementMap extends HTMLElement {
  connectedCallback() {
    if (this.ticks) return;
    this.ticks = [];
    this.buttons = new Map([...this.querySelectorAll("[data-tick]")].map((one) => [Number(one.dataset.tick), one]));
    this.places = new Map([...this.querySelectorAll("[data-place]")].map((one) => [Number(one.dataset.place), one]));
    this.texts = new Map([...this.querySelectorAll("[data-place-text]")].map((one) => [Number(one.dataset.placeText), one]));
    this.choice = this.querySelector("[data-layer-choice]");
    if (this.choice.value !== this.dataset.layer && this.choice.options.length) this.choice.selectedIndex = this.choice.options.length - 1;
    this.choice.addEventListener("change", () => this.load());
    for (const [n, one] of this.buttons) one.addEventListener("click", () => this.turn(n));
    for (const [n, one] of this.places) one.addEventListener("click", () => this.turn(n));
    this.part("done").addEventListener("click", () => { const n = this.next(); if (n) this.turn(n); });
    this.part("back").addEventListener("click", () => { const n = this.ticks.at(-1); if (n) this.turn(n); });
    this.part("clear").addEventListener("click", () => { this.ticks = []; this.keep(); this.show(); });
    addEventListener("storage", (event) => { if (event.key === this.name()) this.load(); });
    document.addEventListener("outbox:kept", ({ detail }) => this.fused(detail.item));
    this.load();
  }

  part(name) { return this.querySelector(`[data-${name}]`); }

  name() {
    return `soundedge-laid/${said("shop")}/${this.dataset.job}/${this.dataset.plan}/${this.choice.value}`;
  }

  load() {
    try {
      const kept = JSON.parse(localStorage.getItem(this.name()) || "[]");
      this.ticks = Array.isArray(kept) ? kept.filter((n) => this.buttons.has(n)) : [];
    } catch {
      this.ticks = [];
    }
    this.show();
  }

  keep() {
    try { localStorage.setItem(this.name(), JSON.stringify(this.ticks)); } catch { /* the ticks last as long as the page */ }
  }

  turn(n) {
    this.ticks = this.ticks.includes(n) ? this.ticks.filter((one) => one !== n) : [...this.ticks, n];
    this.keep();
    this.show();
  }

  next() {
    return [...this.buttons.keys()].find((n) => !this.ticks.includes(n)) || 0;
  }

  word(name, values = {}) {
    const text = this.querySelector(`template[data-word="${name}"]`).content.textContent.trim().replace(/\s+/g, " ");
    return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? values[key] : whole));
  }

  show() {
    const next = this.next();
    for (const [n, one] of this.buttons) {
      const on = this.ticks.includes(n);
      one.setAttribute("aria-pressed", String(on));
      one.toggleAttribute("aria-current", n === next);
      if (n === next) one.setAttribute("aria-current", "step");
      paint(one.querySelector(".shape"), on ? "disc" : n === next ? "arrow" : "dash");
      for (const drawn of [this.places.get(n), this.texts.get(n)]) if (drawn) drawn.setAttribute("class", on ? "laid" : n === next ? "next" : "");
    }
    const line = next ? this.buttons.get(next).textContent.trim().replace(/\s+/g, " ") : this.word("all");
    if (this.part("says").textContent !== line) this.part("says").textContent = line;
    this.part("count").textContent = this.word("count", { n: this.ticks.length, of: this.buttons.size });
    this.part("done").disabled = !next;
    this.part("back").disabled = !this.ticks.length;
    const last = Math.max(0, ...this.ticks);
    const missed = [...this.buttons.keys()].filter((n) => n < last && !this.ticks.includes(n));
    this.part("missed").hidden = !missed.length;
    this.part("missed").textContent = missed.length ? this.word("missed", { list: missed.slice(0, 12).join(", ") + (missed.length > 12 ? " …" : "") }) : "";
    const upper = next && this.places.get(next);
    if (upper && upper.nextElementSibling && upper.nextElementSibling.tagName === "circle") this.querySelector(".cross").before(upper); // drawn last, seen whole
    const ring = next && this.buttons.get(next).closest("details");
    if (ring && ring !== this.ring) {
      for (const one of this.querySelectorAll("details[data-ring]")) one.open = one === ring;
      this.ring = ring;
    }
  }

  /* A layer was written down: the next one is laid, and the form offers its number. */
  fused(item) {
    if (!item || item.kind !== "layer.fused" || item.job !== this.dataset.job) return;
    const number = item.body.number + 1;
    const field = document.querySelector('entry-form[kind="layer.fused"] [name="number"]');
    if (field) { field.defaultValue = String(number); field.value = String(number); }
    if ([...this.choice.options].some((one) => one.value === String(number))) {
      this.choice.value = String(number);
      this.load();
    }
  }
}

customElements.define("placement-map", PlacementMap);
