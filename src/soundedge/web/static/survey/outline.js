// What has been tapped so far, what is wrong with it, and what was it before? No drawing, no page.

import { area, crossings, curveThrough, distance, greatestLength, inside, inverse, lineLength, meetings, nearestEdge,
  through } from "./geometry.js";

export const KINDS = ["chip", "crack", "blister", "lifted_edge", "corrosion", "gouge", "cut", "scratch", "pinhole", "disbond",
  "stain", "swelling", "burn", "thin_area", "wear", "earlier_repair", "other"];
const CURVE_STEP_MM = 0.5;
const DENSE = 60; // with more points than this an outline was suggested, not tapped
const MOST_POINTS = 5000;
const MOST_HOLES = 50;
const KEPT = 200; // steps that can be undone
const PASSED_ON = ["edge", "band_mm", "u_edge_mm", "by"];

export const tenth = (v) => Math.round(v * 10) / 10 + 0;

export class Outline {
  rings = [[]]; // the outline, then the islands of sound lining
  ring = 0; // where the next point goes
  chosen = null; // index in that ring
  kind = "chip";
  joined = "straight";
  confirmed = false;
  size = [Infinity, Infinity];
  passed = {};
  #plane = null;
  #back = null;
  #past = [];
  #future = [];

  /** Nine numbers, pixels to millimetres, or null. */
  set plane(h) {
    const good = Array.isArray(h) && h.length === 9 && h.every(Number.isFinite);
    this.#plane = good ? h : null;
    this.#back = good ? inverse(h) : null;
  }
  get plane() { return this.#plane; }
  get planeBack() { return this.#back; }

  get open() { return this.kind === "crack"; }
  get points() { return this.rings[this.ring]; }
  get least() { return this.open ? 2 : 3; }
  get canUndo() { return this.#past.length > 0; }
  get canRedo() { return this.#future.length > 0; }
  get count() { return this.rings.reduce((sum, ring) => sum + ring.length, 0); }

  // ---------------------------------------------------------------- changes
  /** Remember how it is before a change. */
  keep() {
    this.#past.push(this.#now());
    if (this.#past.length > KEPT) this.#past.shift();
    this.#future = [];
  }

  /** Forget the last remembered state and go back to it: a drag that was given up. */
  drop() {
    this.#restore(this.#past.pop());
  }

  undo() {
    if (!this.canUndo) return false;
    this.#future.push(this.#now());
    this.#restore(this.#past.pop());
    return true;
  }

  redo() {
    if (!this.canRedo) return false;
    this.#past.push(this.#now());
    this.#restore(this.#future.pop());
    return true;
  }

  /** A point at the end; its number in the ring, or 0 when there is one already or no room. */
  add(p) {
    return this.#put(this.points.length, p);
  }

  /** A point into the nearest edge of all rings; at an end of an open line where the nearest place is its end. */
  insert(p) {
    let best = null;
    this.rings.forEach((ring, number) => {
      if (ring.length < (this.open ? 2 : 3)) return;
      const edge = nearestEdge(ring, p, !this.open);
      if (!best || edge.distance < best.distance) best = { ...edge, number, last: ring.length - 2 };
    });
    if (!best) return this.add(p);
    this.ring = best.number;
    if (this.open && best.index === 0 && best.along === 0) return this.#put(0, p);
    if (this.open && best.index === best.last && best.along === 1) return this.add(p);
    return this.#put(best.index + 1, p);
  }

  #put(index, p) {
    const at = this.#within(p);
    if (this.points.length >= MOST_POINTS || this.points.some((q) => distance(at, q) < 0.05)) return 0;
    this.keep();
    this.points.splice(index, 0, at);
    this.chosen = index;
    this.confirmed = false;
    return index + 1;
  }

  /** Move the chosen point; ``keep`` is called once before a drag. */
  move(p) {
    this.points[this.chosen] = this.#within(p);
    this.confirmed = false;
  }

  remove() {
    if (this.chosen === null || !this.points.length) return 0;
    this.keep();
    const number = this.chosen + 1;
    this.points.splice(this.chosen, 1);
    this.chosen = this.points.length ? Math.max(0, this.chosen - 1) : null;
    if (!this.points.length && this.ring > 0) {
      this.rings.splice(this.ring, 1);
      this.ring = 0;
    }
    this.confirmed = false;
    return number;
  }

  clear() {
    this.keep();
    [this.rings, this.ring, this.chosen, this.confirmed] = [[[]], 0, null, false];
  }

  /** Begin an island; false for a crack, or before the outline has three points. */
  addRing() {
    if (this.open || this.rings[0].length < 3 || this.rings.length > MOST_HOLES) return false;
    const empty = this.rings.findIndex((ring, i) => i > 0 && !ring.length);
    if (empty < 0) {
      this.keep();
      this.rings.push([]);
    }
    this.ring = empty < 0 ? this.rings.length - 1 : empty;
    this.chosen = null;
    return true;
  }

  /** Go on in the next ring. */
  nextRing() {
    this.ring = (this.ring + 1) % this.rings.length;
    this.chosen = this.points.length ? this.points.length - 1 : null;
  }

  /** Take over a suggested edge: many points, joined straight. */
  take(points) {
    this.keep();
    this.rings[0] = points.map((p) => this.#within(p));
    [this.ring, this.chosen, this.confirmed] = [0, null, false];
    if (points.length > DENSE) this.joined = "straight";
  }

  join(how) {
    this.keep();
    this.joined = how;
    this.confirmed = false;
  }

  /** The nearest point of any ring within ``reach`` pixels of the photo: {ring, index}. The active ring comes first. */
  hit(p, reach) {
    let best = null;
    this.rings.forEach((ring, number) => ring.forEach((q, index) => {
      const gap = distance(p, q) - (number === this.ring ? 1e-6 : 0);
      if (gap <= reach && (!best || gap < best.gap)) best = { ring: number, index, gap };
    }));
    return best;
  }

  // ---------------------------------------------------------------- what it is
  /** A ring as it is drawn and measured: straight, or a smooth curve through its points. In pixels. */
  drawn(number) {
    const ring = this.rings[number];
    if (this.open || this.joined !== "curve" || ring.length < 3 || ring.length > 400) return ring;
    if (!this.#plane) return curveThrough(ring, Math.max(1, lineLength(ring, true) / 160));
    const flat = ring.map((p) => through(this.#plane, p));
    const step = Math.max(CURVE_STEP_MM, lineLength(flat, true) / 800);
    return curveThrough(flat, step).map((p) => through(this.#back, p));
  }

  /** What keeps it from being confirmed: [{what, ring, marks: [{i, j, at}]}], worst first; empty when nothing does. */
  faults() {
    const found = [];
    const shapes = this.rings.map((_, number) => this.drawn(number));
    if (this.rings[0].length < this.least) found.push({ what: "few", ring: 0, marks: [] });
    if (this.open) return found;
    this.rings.forEach((ring, number) => {
      if (number && ring.length && ring.length < 3) found.push({ what: "few", ring: number, marks: [] });
      if (ring.length < 3) return;
      const marks = crossings(shapes[number], 40);
      if (marks.length) found.push({ what: "crosses", ring: number, marks });
      else if (area(shapes[number]) < 1) found.push({ what: "flat", ring: number, marks: [] });
      if (!number || this.rings[0].length < 3) return;
      for (let other = 0; other < number; other += 1) {
        if (shapes[other].length < 3) continue;
        const met = meetings(shapes[number], shapes[other], 10);
        const held = inside(shapes[other], shapes[number][0]) || (other && inside(shapes[number], shapes[other][0]));
        if (met.length || (other ? held : !held)) found.push({ what: "island", ring: number, marks: met });
      }
    });
    return found;
  }

  /** Area and greatest length in mm² and mm through the plane; of a crack its length along the points. Null without a plane. */
  estimate() {
    if (!this.#plane || this.faults().length) return null;
    const flat = this.rings.map((ring, number) => this.drawn(number).map((p) => through(this.#plane, p)));
    if (this.open) return { area_mm2: null, length_mm: lineLength(flat[0]) };
    const holes = flat.slice(1).reduce((sum, ring) => sum + area(ring), 0);
    return { area_mm2: area(flat[0]) - holes, length_mm: greatestLength(flat[0]) };
  }

  get value() {
    const pairs = (ring) => ring.map(([x, y]) => [x, y]);
    const passed = Object.fromEntries(Object.entries(this.passed).filter(([key]) => key !== "band_mm" || this.open));
    return {
      kind: this.kind,
      outline_px: pairs(this.rings[0]),
      holes_px: this.open ? [] : this.rings.slice(1).filter((ring) => ring.length).map(pairs),
      confirmed: this.confirmed && this.faults().length === 0,
      joined: this.open ? "straight" : this.joined,
      ...passed,
    };
  }

  /** Taken as kept: a value of another photo or of another shape is left where it is unreadable. */
  set value(given) {
    const v = given ?? {};
    const pairs = (ring) => (Array.isArray(ring) ? ring : [])
      .filter((p) => Array.isArray(p) && p.length === 2 && p.every((c) => Number.isFinite(Number(c))))
      .map((p) => this.#within(p.map(Number)));
    if (KINDS.includes(v.kind)) this.kind = v.kind;
    if (v.joined === "straight" || v.joined === "curve") this.joined = v.joined;
    this.rings = [pairs(v.outline_px), ...(Array.isArray(v.holes_px) ? v.holes_px : []).map(pairs).filter((r) => r.length)];
    [this.ring, this.chosen, this.#past, this.#future] = [0, null, [], []];
    this.passed = Object.fromEntries(PASSED_ON.filter((key) => v[key] !== undefined && v[key] !== null).map((key) => [key, v[key]]));
    this.confirmed = v.confirmed === true && this.faults().length === 0;
  }

  #within([x, y]) {
    const hold = (v, size) => tenth(Math.min(Math.max(v, 0), Number.isFinite(size) ? size - 1 : 1e6));
    return [hold(x, this.size[0]), hold(y, this.size[1])];
  }

  #now() {
    return { rings: this.rings.map((ring) => [...ring]), ring: this.ring, chosen: this.chosen, joined: this.joined };
  }

  #restore(was) {
    Object.assign(this, was);
    this.confirmed = false;
  }
}
