// Finger, pen and mouse on the photo: tap a point, drag one, hold to place or to delete, two fingers to look closer.

const GRAB = { mouse: 14, pen: 18, touch: 26 }; // how near a press takes hold of a point, CSS pixels
const CHOOSE = { mouse: 9, pen: 10, touch: 13 }; // how near a tap chooses a point instead of making one
const STILL = { mouse: 3, pen: 5, touch: 9 }; // how far a finger may tremble and still be tapping
const HOLD_PLACE_MS = 320, HOLD_DELETE_MS = 750;

export class Pointer {
  gesture = null; // what the hand is doing: press, place, move, pan, pinch or done
  hover = null; // where the mouse is
  #pressed = new Map();

  constructor(editor) {
    this.editor = editor;
    for (const [name, work] of Object.entries({
      pointerdown: this.#down, pointermove: this.#moved, pointerup: this.#up, pointercancel: this.#cancel, pointerleave: this.#left,
    })) editor.canvas.addEventListener(name, (event) => work.call(this, event));
    editor.canvas.addEventListener("wheel", (event) => this.#wheel(event), { passive: false });
    editor.canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  }

  stop() { clearTimeout(this.gesture?.timer); }

  #at(event) {
    const box = this.editor.canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  #down(event) {
    if (!this.editor.hasPhoto || event.button > 0) return;
    const at = this.#at(event);
    this.editor.pressed();
    try { this.editor.canvas.setPointerCapture(event.pointerId); } catch { /* a pointer that is gone already */ }
    this.#pressed.set(event.pointerId, at);
    if (this.#pressed.size === 2) {
      this.#giveUp();
      this.gesture = { what: "pinch", ...this.#spread() };
      return;
    }
    if (this.#pressed.size > 2) return;
    const kind = event.pointerType in GRAB ? event.pointerType : "touch";
    const photo = this.editor.sight.toPhoto(at);
    const hit = this.editor.outline.hit(photo, GRAB[kind] / this.editor.sight.scale);
    const timer = setTimeout(() => this.#heldLong(), hit ? HOLD_DELETE_MS : HOLD_PLACE_MS);
    this.gesture = { what: "press", kind, from: at, at, hit, timer };
    this.editor.draw();
  }

  #moved(event) {
    const at = this.#at(event);
    if (event.pointerType === "mouse" && !this.#pressed.size) {
      this.hover = at;
      if (this.editor.followsMouse) this.editor.draw();
      return;
    }
    if (!this.#pressed.has(event.pointerId)) return;
    const before = this.#pressed.get(event.pointerId), gesture = this.gesture;
    this.#pressed.set(event.pointerId, at);
    if (!gesture) return;
    if (gesture.what === "pinch") {
      const now = this.#spread();
      this.editor.sight.pan(now.middle[0] - gesture.middle[0], now.middle[1] - gesture.middle[1]);
      if (gesture.wide > 0) this.editor.sight.zoom(now.wide / gesture.wide, now.middle);
      Object.assign(gesture, now);
      return this.editor.draw();
    }
    gesture.at = at;
    if (gesture.what === "press" && Math.hypot(at[0] - gesture.from[0], at[1] - gesture.from[1]) > STILL[gesture.kind]) {
      clearTimeout(gesture.timer);
      if (gesture.hit) {
        this.editor.choose(gesture.hit);
        this.editor.outline.keep();
        gesture.start = this.editor.outline.points[this.editor.outline.chosen];
        gesture.what = "move";
      } else {
        gesture.what = "pan";
        this.editor.sight.pan(at[0] - gesture.from[0], at[1] - gesture.from[1]);
      }
    } else if (gesture.what === "pan") {
      this.editor.sight.pan(at[0] - before[0], at[1] - before[1]);
    }
    if (gesture.what === "move") {
      // the point keeps its place relative to the finger, which need not lie on it
      const [dx, dy] = [0, 1].map((k) => (at[k] - gesture.from[k]) / this.editor.sight.scale);
      this.editor.outline.move([gesture.start[0] + dx, gesture.start[1] + dy]);
      this.editor.dragged();
    }
    this.editor.draw();
  }

  #heldLong() {
    const gesture = this.gesture;
    if (gesture?.what !== "press") return;
    if (gesture.hit) {
      gesture.what = "done";
      this.editor.choose(gesture.hit);
      this.editor.remove();
    } else {
      gesture.what = "place"; // slide under the magnifier, lift to place
      this.editor.draw();
    }
  }

  #up(event) {
    if (!this.#pressed.delete(event.pointerId)) return;
    const gesture = this.gesture;
    if (gesture?.what === "pinch") {
      if (!this.#pressed.size) this.gesture = null;
      else gesture.what = "done";
      return;
    }
    if (this.#pressed.size) return;
    clearTimeout(gesture?.timer);
    this.gesture = null;
    if (gesture?.what === "press") {
      const photo = this.editor.sight.toPhoto(gesture.from);
      const hit = this.editor.outline.hit(photo, CHOOSE[gesture.kind] / this.editor.sight.scale);
      if (hit) {
        this.editor.choose(hit);
        this.editor.say("chosen", { point: hit.index + 1, ...this.editor.numbers() });
        this.editor.show();
      } else this.editor.place(photo);
    } else if (gesture?.what === "place") {
      this.editor.place(this.editor.sight.toPhoto(gesture.at));
    } else if (gesture?.what === "move") {
      this.editor.changed("moved", { point: this.editor.outline.chosen + 1 });
    }
    this.editor.draw();
  }

  #cancel(event) {
    this.#pressed.delete(event.pointerId);
    this.#giveUp();
    if (this.#pressed.size) this.gesture = { what: "done" };
    this.editor.draw();
  }

  #left(event) {
    if (event.pointerType === "mouse") this.hover = null;
    this.editor.draw();
  }

  /** A press that turned into something else leaves no trace. */
  #giveUp() {
    clearTimeout(this.gesture?.timer);
    if (this.gesture?.what === "move") this.editor.outline.drop();
    this.gesture = null;
    this.editor.show();
  }

  #spread() {
    const [a, b] = [...this.#pressed.values()];
    return { middle: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2], wide: Math.hypot(a[0] - b[0], a[1] - b[1]) };
  }

  #wheel(event) {
    if (!this.editor.hasPhoto) return;
    event.preventDefault();
    const lines = event.deltaMode === 1 ? 16 : 1;
    this.editor.sight.zoom(Math.exp(-Math.max(-240, Math.min(240, event.deltaY * lines)) / 300), this.#at(event));
    this.editor.draw();
  }
}
