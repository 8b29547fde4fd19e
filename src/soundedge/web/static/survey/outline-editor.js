// <outline-editor>: the edge of the damage is tapped on a photo. All words come from the page (see survey/_editor.html).
//
// Attributes: src, photo-width, photo-height (upright original, when src is a smaller copy), kind, joined, plane (nine
// numbers, pixels to mm), window-px, snap-url, csrf-token, csrf-header, area-factor, length-factor, loupe (always).
// Properties: photo (Blob), value, plane, windowPx, card. Events: outline:changed, outline:confirmed, outline:photo.

import { element, english } from "../outbox/elements.js";
import { parsed } from "./geometry.js";
import { Outline, tenth } from "./outline.js";
import { Pointer } from "./pointer.js";
import { Sight } from "./sight.js";
import { readPhoto } from "./photo.js";
import { askEdge } from "./suggestion.js";
import { drawCross, drawGrid, drawLoupe, drawOutline, drawSuggestion, loupePlace, ruledRegion } from "./drawing.js";

const SNAP_MS = 20_000;
const FEW = (fault) => fault.what === "few", GRAVE = (fault) => !FEW(fault);

export class OutlineEditor extends HTMLElement {
  static observedAttributes = ["src", "kind", "joined", "plane", "window-px", "photo-width", "photo-height", "loupe"];

  outline = new Outline();
  sight = new Sight();
  card = null;
  #photo = null; #source = null; #turn = 0; #frame = 0; #ready = false;
  #pointer = null; #cross = null; #held = null; #cycled = false;
  #mode = "trace"; #grid = true; #loupe = false; #loupeAt = null;
  #suggestion = null; #asking = null; #faults = []; #window = null;

  connectedCallback() {
    if (this.#ready) return;
    this.#ready = true;
    this.stage = this.querySelector("[data-stage]");
    this.canvas = this.querySelector("canvas");
    this.addEventListener("click", (event) => this.#click(event));
    this.stage.addEventListener("keydown", (event) => this.#key(event));
    this.stage.addEventListener("blur", () => { this.#cross = null; this.draw(); });
    this.#pointer = new Pointer(this);
    new ResizeObserver(() => this.#resized()).observe(this.canvas);
    this.#resized();
    this.show();
  }

  disconnectedCallback() {
    this.#asking?.abort();
    this.#pointer?.stop();
  }

  attributeChangedCallback(name, before, now) {
    if (before === now) return;
    if (name === "kind" && now) this.outline.kind = now;
    if (name === "joined" && now) this.outline.joined = now === "curve" ? "curve" : "straight";
    if (name === "plane") this.plane = now;
    if (name === "window-px") this.windowPx = now;
    if (name === "loupe") this.#loupe = now === "always";
    if (name === "src" || name.startsWith("photo-")) {
      if (this.hasAttribute("src")) this.#load(this.getAttribute("src"));
      else if (this.#source) this.#load(this.#source);
    }
    if (name === "kind" || name === "joined") this.changed();
    this.show();
  }

  // ---------------------------------------------------------------- what the page sets and reads
  get photo() { return this.#source; }
  set photo(blob) { this.#load(blob); }

  get value() { return this.outline.value; }
  set value(given) {
    this.outline.value = given;
    this.#suggestion = null;
    this.show();
  }

  get plane() { return this.outline.plane; }
  set plane(given) {
    this.outline.plane = parsed(given);
    this.show();
  }

  get windowPx() { return this.#window; }
  set windowPx(given) {
    const corners = parsed(given);
    this.#window = Array.isArray(corners) && corners.length > 2 ? corners : null;
    this.draw();
  }

  // ---------------------------------------------------------------- the photo
  async #load(source) {
    this.#source = source;
    const turn = (this.#turn += 1);
    const size = ["photo-width", "photo-height"].map((name) => Number(this.getAttribute(name)));
    try {
      const photo = await readPhoto(source, size.every((v) => v > 0) ? size : null);
      if (turn !== this.#turn) return photo.close();
      this.#photo?.close();
      this.#photo = photo;
      this.outline.size = [photo.width, photo.height];
      [this.sight.photoWidth, this.sight.photoHeight] = this.outline.size;
      this.sight.fit();
      this.#tell("outline:photo", { width: photo.width, height: photo.height });
    } catch (error) {
      if (turn !== this.#turn) return;
      this.#photo?.close();
      this.#photo = null;
      this.say(error.message === "size" ? "photo-size" : "photo-none");
    }
    this.show();
  }

  // ---------------------------------------------------------------- words
  words(name, values = {}) {
    const text = this.querySelector(`template[data-words="${name}"]`)?.content.textContent.trim() ?? "";
    return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? values[key] : whole));
  }

  /** Say what happened, then how the outline stands. */
  say(name, values = {}, { state = false } = {}) {
    const place = this.querySelector("[data-status]");
    if (!place) return;
    place.textContent = [this.words(name, values), state ? this.#stateWords() : ""].filter(Boolean).join(" ");
    const grave = state ? this.#faultWords(GRAVE) : "";
    if (!grave) return;
    place.append(element("span", ` ${grave}`, "oe-heard")); // seen in the frame below, so here it is only heard
  }

  #count() {
    const n = this.outline.points.length;
    return this.words(n === 1 ? "count-one" : "count-many", { count: n });
  }

  #stateWords() {
    const good = this.outline.open || this.#faults.length ? "" : this.words("no-crossing");
    return `${this.#count()} ${this.#faultWords(FEW) || good}`.trim();
  }

  #faultWords(which = () => true) {
    return this.#faults.filter(which).map(({ what, ring }) => {
      if (what === "few") return this.words(ring ? "few-island" : "few", { least: this.outline.least, island: ring });
      return this.words(ring ? `${what}-island` : what, { island: ring });
    }).filter(Boolean).join(" ");
  }

  // ---------------------------------------------------------------- a change
  changed(name, values) {
    this.outline.confirmed = false;
    if (this.#suggestion) this.#drop();
    this.show();
    if (name) this.say(name, values, { state: true });
    this.#tell("outline:changed", this.value);
  }

  #tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail, bubbles: true }));
  }

  /** Buttons, faults and estimate as they now are; then the drawing. */
  show() {
    this.#faults = this.outline.faults();
    if (!this.#ready) return;
    const { outline } = this;
    const able = {
      undo: outline.canUndo, redo: outline.canRedo, delete: outline.chosen !== null, clear: outline.count > 0,
      island: !outline.open && outline.rings[0].length > 2, ring: outline.rings.length > 1, join: !outline.open,
      snap: !outline.open && outline.rings[0].length > 2 && !this.#asking && this.hasAttribute("snap-url"),
      confirm: this.#photo !== null && !this.#faults.length && !outline.confirmed, grid: outline.plane !== null,
    };
    const pressed = { insert: this.#mode === "insert", join: outline.joined === "curve", loupe: this.#loupe, grid: this.#grid };
    const hidden = {
      ring: !able.ring, join: outline.open, island: outline.open, grid: !able.grid, snap: outline.open || !this.hasAttribute("snap-url"),
    };
    for (const button of this.querySelectorAll("button[data-do]")) {
      const what = button.dataset.do;
      if (what in able) button.setAttribute("aria-disabled", String(!able[what]));
      if (what in pressed) button.setAttribute("aria-pressed", String(pressed[what]));
      if (what in hidden) button.hidden = hidden[what];
    }
    this.#put("[data-faults]", this.#faultWords(GRAVE));
    this.#put("[data-confirmed]", outline.confirmed ? this.words("confirmed") : "");
    this.#put("[data-ring]", outline.ring ? this.words("in-island", { island: outline.ring }) : "");
    const found = outline.estimate();
    this.#put("[data-estimate]", found ? this.words(outline.open ? "estimate-crack" : "estimate", {
      area: this.#number(found.area_mm2 * (Number(this.getAttribute("area-factor")) || 1)),
      length: this.#number(found.length_mm * (Number(this.getAttribute("length-factor")) || 1)),
    }) : "");
    this.draw();
  }

  #put(where, text) {
    const place = this.querySelector(where);
    if (!place) return;
    if (place.textContent !== text) place.textContent = text;
    place.hidden = !text;
  }

  #number(value) {
    const digits = { maximumSignificantDigits: Math.abs(value) >= 1000 ? 4 : 3 };
    return new Intl.NumberFormat(this.closest("[lang]")?.lang || undefined, digits).format(value);
  }

  // ---------------------------------------------------------------- buttons
  #click(event) {
    const button = event.target.closest("button[data-do]");
    if (!button) return;
    event.preventDefault();
    this.do(button.dataset.do, button.getAttribute("aria-disabled") === "true");
  }

  /** What a button does. */
  do(what, disabled = false) {
    if (disabled) return this.#whyNot(what);
    const { outline } = this;
    switch (what) {
      case "zoom-in": return this.#zoom(1.6);
      case "zoom-out": return this.#zoom(1 / 1.6);
      case "fit": this.sight.fit(); this.say("fitted"); return this.draw();
      case "undo": return outline.undo() && this.changed("undone");
      case "redo": return outline.redo() && this.changed("redone");
      case "delete": return this.remove();
      case "clear": return this.#ask(true);
      case "clear-no": return this.#ask(false);
      case "clear-yes": outline.clear(); this.#ask(false); return this.changed("cleared");
      case "insert": this.#mode = this.#mode === "insert" ? "trace" : "insert"; this.say(`mode-${this.#mode}`); return this.show();
      case "join": outline.join(outline.joined === "curve" ? "straight" : "curve"); return this.changed(`joined-${outline.joined}`);
      case "loupe": this.#loupe = !this.#loupe; this.say(this.#loupe ? "loupe-on" : "loupe-off"); return this.show();
      case "grid": this.#grid = !this.#grid; this.say(this.#grid ? "grid-on" : "grid-off"); return this.show();
      case "island": if (outline.addRing()) { this.say("island-begun", { island: outline.ring }); this.show(); } return undefined;
      case "ring": outline.nextRing(); this.say(outline.ring ? "in-island" : "in-outline", { island: outline.ring }); return this.show();
      case "snap": return this.#snap();
      case "take": return this.#take();
      case "keep": this.#drop(); return this.say("snap-kept");
      case "confirm": return this.confirm();
      default: return undefined;
    }
  }

  #whyNot(what) {
    if (what === "confirm") {
      if (this.outline.confirmed) return this.say("confirmed");
      const why = this.#photo ? this.#faultWords() : this.words("photo-none");
      return this.say("not-confirmed", { why });
    }
    return this.say(`no-${what}`);
  }

  confirm() {
    this.#faults = this.outline.faults();
    if (this.#faults.length || !this.#photo) return this.#whyNot("confirm");
    this.outline.confirmed = true;
    if (this.#suggestion) this.#drop();
    this.say("confirmed");
    this.show();
    return this.#tell("outline:confirmed", this.value);
  }

  #ask(open) {
    const box = this.querySelector("[data-ask]");
    if (open) box.showModal();
    else box.close();
  }

  remove() {
    const number = this.outline.remove();
    this.#cycled = false;
    if (number) this.changed("deleted", { point: number });
  }

  #zoom(factor, about) {
    this.sight.zoom(factor, about ?? (this.#cross ? this.sight.toScreen(this.#cross) : undefined));
    this.say("zoomed", { percent: this.#number(Math.round(this.sight.scale * 100)) });
    this.draw();
  }

  // ---------------------------------------------------------------- the suggested edge
  async #snap() {
    const abort = (this.#asking = new AbortController());
    const timer = setTimeout(() => abort.abort(), SNAP_MS);
    const before = JSON.stringify(this.value);
    this.say("snap-asking");
    this.show();
    const { confirmed, ...asked } = this.value;
    const answer = await askEdge(this, this.card ? { ...asked, card: this.card } : asked, abort.signal);
    clearTimeout(timer);
    this.#asking = null;
    this.show();
    const found = answer?.suggestion ?? answer;
    if (!found || typeof found.offered !== "boolean") return this.say("snap-none");
    if (before !== JSON.stringify(this.value)) return this.say("snap-late");
    if (!found.offered || !Array.isArray(found.outline_px) || found.outline_px.length < 3) {
      return this.#sayRoom("snap-refused", found.because);
    }
    this.#suggestion = found.outline_px;
    this.querySelector("[data-suggestion]").hidden = false;
    this.#sayRoom("snap-shown", found.because);
    return this.draw();
  }

  /** Our own words, then the room's sentence as it stands (English). */
  #sayRoom(name, because) {
    this.say(name);
    if (because) this.querySelector("[data-status]").append(english(` ${because}`));
  }

  #drop() {
    this.#suggestion = null;
    this.querySelector("[data-suggestion]").hidden = true;
    this.draw();
  }

  #take() {
    if (!this.#suggestion) return;
    this.outline.take(this.#suggestion);
    this.#drop();
    this.changed("snap-taken");
  }

  // ---------------------------------------------------------------- points (also for pointer.js)
  get hasPhoto() { return this.#photo !== null; }
  get followsMouse() { return this.#loupe; }

  /** A finger or the mouse takes over from the keys. */
  pressed() {
    this.stage.focus({ preventScroll: true });
    this.#cross = null;
  }

  /** A point was dragged a little. */
  dragged() {
    if (this.#suggestion) this.#drop();
    this.#faults = this.outline.faults();
  }

  choose({ ring, index }) {
    this.outline.ring = ring;
    this.outline.chosen = index;
    this.#cycled = false;
  }

  numbers() {
    return { count: this.outline.points.length, x: this.#number(this.outline.points[this.outline.chosen]?.[0]), y: this.#number(this.outline.points[this.outline.chosen]?.[1]) };
  }

  place(photo) {
    const [x, y] = photo, [width, height] = this.outline.size;
    if (x < -0.5 || y < -0.5 || x > width - 0.5 || y > height - 0.5) return this.say("off-photo");
    const number = this.#mode === "insert" ? this.outline.insert(photo) : this.outline.add(photo);
    this.#cycled = false;
    if (!number) return this.say("there-already");
    return this.changed(this.outline.ring ? "added-island" : "added", { point: number, island: this.outline.ring });
  }

  // ---------------------------------------------------------------- keyboard
  #key(event) {
    if (!this.#photo || event.altKey) return;
    const key = event.key, control = event.ctrlKey || event.metaKey;
    const arrow = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[key];
    let done = true;
    if (control) {
      if (key === "z" || key === "Z") this.do(event.shiftKey ? "redo" : "undo", !(event.shiftKey ? this.outline.canRedo : this.outline.canUndo));
      else if (key === "y" || key === "Y") this.do("redo", !this.outline.canRedo);
      else done = false;
    } else if (arrow) this.#step(arrow, event.shiftKey ? 10 : 1);
    else if (key === "Enter" || key === " ") this.#enter();
    else if (key === "]" || key === "[") this.#cycle(key === "]" ? 1 : -1);
    else if (key === "Tab" && this.#cycled) done = this.#cycle(event.shiftKey ? -1 : 1, true);
    else if (key === "Delete" || key === "Backspace") this.do("delete", this.outline.chosen === null);
    else if (key === "+" || key === "=") this.do("zoom-in");
    else if (key === "-" || key === "−") this.do("zoom-out");
    else if (key === "0") this.do("fit");
    else if (key === "Escape" && (this.#held || this.#cycled)) this.#putBack();
    else done = false;
    if (done) event.preventDefault();
  }

  /** One pixel of the photo; seen from afar, where that would not show, one pixel of the screen. */
  #step([dx, dy], times) {
    const step = times * Math.max(1, Math.round(1 / this.sight.scale));
    const from = this.#cross ?? this.#start();
    const [width, height] = this.outline.size;
    const next = [from[0] + dx * step, from[1] + dy * step];
    this.#cross = [Math.min(width - 1, Math.max(0, next[0])), Math.min(height - 1, Math.max(0, next[1]))].map(tenth);
    this.sight.show(this.#cross);
    if (this.#held) {
      this.outline.move(this.#cross);
      this.show();
    } else {
      this.#cycled = false;
      this.draw();
    }
  }

  #start() {
    const chosen = this.outline.points[this.outline.chosen];
    return chosen ?? this.sight.toPhoto([this.sight.width / 2, this.sight.height / 2]).map(Math.round);
  }

  #enter() {
    if (!this.#cross) {
      this.#cross = this.#start();
      this.say("cross-shown");
      return this.draw();
    }
    if (this.#held) {
      this.#held = null;
      return this.changed("moved", { point: this.outline.chosen + 1 });
    }
    if (this.#cycled) {
      this.outline.keep();
      this.#held = true;
      return this.say("picked-up", { point: this.outline.chosen + 1 });
    }
    return this.place(this.#cross);
  }

  /** Choose the next point; with ``leave`` the last one lets the focus go on. */
  #cycle(way, leave = false) {
    const n = this.outline.points.length;
    if (!n || this.#held) return !leave;
    const at = this.outline.chosen ?? (way > 0 ? -1 : n);
    let next = at + way;
    if (leave && (next < 0 || next >= n)) return false;
    if (!this.#cycled && this.outline.chosen !== null && this.outline.chosen === n - 1 && way > 0) next = n;
    next = (next + n) % n;
    this.outline.chosen = next;
    this.#cycled = true;
    this.#cross = [...this.outline.points[next]];
    this.sight.show(this.#cross);
    this.say("chosen", { point: next + 1, ...this.numbers() });
    this.show();
    return true;
  }

  #putBack() {
    if (this.#held) {
      this.#held = null;
      this.outline.drop();
      this.#cross = [...this.outline.points[this.outline.chosen]];
      this.say("put-back");
    } else this.outline.chosen = null;
    this.#cycled = false;
    this.show();
  }

  // ---------------------------------------------------------------- drawing
  #resized() {
    const { clientWidth, clientHeight } = this.canvas, dense = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(clientWidth * dense);
    this.canvas.height = Math.round(clientHeight * dense);
    this.sight.resize(clientWidth, clientHeight);
    this.draw();
  }

  draw() {
    if (!this.#ready || this.#frame) return;
    this.#frame = requestAnimationFrame(() => {
      this.#frame = 0;
      this.#paint();
    });
  }

  #paint() {
    const context = this.canvas.getContext("2d"), { sight, outline } = this;
    const dense = window.devicePixelRatio || 1;
    context.setTransform(dense, 0, 0, dense, 0, 0);
    context.fillStyle = "#453f34";
    context.fillRect(0, 0, sight.width, sight.height);
    if (!this.#photo) return;
    const to = (p) => sight.toScreen(p);
    this.#photo.draw(context, { left: sight.left, top: sight.top, scale: sight.scale, x: 0, y: 0, width: sight.width, height: sight.height, dense });
    if (this.#grid && outline.plane) drawGrid(context, outline, ruledRegion(outline, this.#window), to, sight);
    drawOutline(context, outline, this.#faults, to, { trace: this.#mode === "trace" });
    if (this.#suggestion) drawSuggestion(context, this.#suggestion, to);
    if (this.#cross) drawCross(context, to(this.#cross), this.#held);
    this.#paintLoupe(context, dense);
  }

  #paintLoupe(context, dense) {
    const { sight, outline } = this, { gesture, hover } = this.#pointer;
    let finger = null, target = null;
    if (gesture && ["press", "place", "move"].includes(gesture.what)) {
      finger = gesture.at;
      target = gesture.what === "move" ? outline.points[outline.chosen] : sight.toPhoto(gesture.at);
    } else if (this.#cross) target = this.#cross;
    else if (this.#loupe) target = hover ? sight.toPhoto(hover) : outline.points[outline.chosen] ?? sight.toPhoto([sight.width / 2, sight.height / 2]);
    this.loupeBox = null; // where the magnifier is, for whoever wants to know
    if (!target) return;
    const radius = Math.min(96, Math.max(54, Math.min(sight.width, sight.height) * 0.18));
    const [corner, place] = loupePlace(sight, finger ?? sight.toScreen(target), radius, this.#loupeAt);
    this.#loupeAt = corner;
    const scale = Math.max(4 * sight.scale, 1 / dense);
    drawLoupe(context, { place, radius, target, photo: this.#photo, outline, faults: this.#faults, scale, dense });
    this.loupeBox = { x: place[0], y: place[1], radius, scale, target: target.map(tenth) };
  }
}

customElements.define("outline-editor", OutlineEditor);
