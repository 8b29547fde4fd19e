/* <typed-card>: a filled card is typed in with the keyboard alone. Enter moves on; the moment stands above all boxes, goes to
   every line and moves on by itself when the card was written every so many minutes.                                       */

const FIELDS = "input:not([type=hidden]), select, textarea";

class TypedCard extends HTMLElement {
  connectedCallback() {
    this.at = this.querySelector("[data-card-at]");
    this.step = this.querySelector("[data-card-step]");
    if (!this.at) return;
    this.addEventListener("keydown", (event) => this.key(event), true);
    this.addEventListener("before-entry", (event) => {
      if (!this.at.value) { event.preventDefault(); this.say(); return; }
      event.detail.at = new Date(this.at.value).toISOString().replace(/\.\d+Z$/, "Z");
    });
    this.addEventListener("entry-kept", (event) => this.kept(event.target));
    this.at.addEventListener("input", () => this.said());
    this.said();
  }

  said() { this.querySelector("[data-card-none]").hidden = Boolean(this.at.value); }
  say() { this.said(); this.at.setAttribute("aria-invalid", "true"); this.at.focus(); }

  fields(form) {
    return [...form.querySelectorAll(`${FIELDS}, button[data-add]`)].filter((one) => one.checkVisibility() && !one.disabled);
  }

  key(event) {
    const at = event.target;
    if (event.key === "PageDown" || event.key === "PageUp") {
      event.preventDefault();
      const boxes = [...this.querySelectorAll("details.box")];
      const here = boxes.findIndex((box) => box.contains(at));
      const next = boxes[here + (event.key === "PageDown" ? 1 : -1)];
      if (!next) return;
      if (here >= 0) boxes[here].open = false;
      next.open = true;
      this.first(next);
      return;
    }
    if (event.key !== "Enter" || event.isComposing || !at.matches(FIELDS) || at.type === "file") return;
    const form = at.closest("form");
    if (!form) {
      event.preventDefault();
      const all = [...this.querySelectorAll(".when-bar input")];
      const later = all[all.indexOf(at) + 1];
      if (later) later.focus(); else this.first(this.querySelector("details.box[open]") || this.querySelector("details.box"));
      return;
    }
    event.preventDefault();
    const all = this.fields(form);
    const later = all.slice(all.indexOf(at) + 1).find((one) => one.matches(FIELDS));
    if (later && !event.ctrlKey) { later.focus(); if (later.select) later.select(); } else form.requestSubmit();
  }

  first(box) {
    box.open = true;
    const empty = this.fields(box).find((one) => one.matches(FIELDS));
    if (empty) { empty.focus(); box.scrollIntoView({ block: "nearest" }); }
  }

  kept(entry) {
    const box = entry.closest("details");
    const lines = box.querySelector("[data-lines]");
    const n = Number(lines.dataset.n || 0) + 1;
    lines.dataset.n = n;
    lines.textContent = n === 1 ? lines.dataset.one : lines.dataset.many.replace("{n}", n);
    const minutes = Number(this.step.value.trim().replace(",", "."));
    if (this.at.value && Number.isFinite(minutes) && minutes) {
      const moved = new Date(new Date(this.at.value).getTime() + minutes * 60000);
      this.at.value = new Date(moved.getTime() - moved.getTimezoneOffset() * 60000).toISOString().slice(0, 16);
    }
    this.first(box);
  }
}

customElements.define("typed-card", TypedCard);
