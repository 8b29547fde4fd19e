/* Readings that are not complete yet, kept on this device after every single one: a reload, a dead battery or a call lose
   none. One draft for each shop, person and job. Film is in µm, as the gauge showed it, before any correction.        */

import { said } from "../outbox/words.js";

export function empty() {
  return { spots: [], at: 0, log: [], aside: [], file: null, set: {} };
}

export class Draft {
  constructor(job, letters) {
    this.name = `soundedge/film/${said("shop")}/${said("person")}/${job}`;
    this.letters = letters;
    this.kept = true;
    this.load();
  }

  load() {
    this.is = empty();
    try {
      const found = JSON.parse(localStorage.getItem(this.name) || "null");
      if (found && Array.isArray(found.spots)) this.is = { ...empty(), ...found };
    } catch { /* nothing that can be read: an empty draft */ }
    if (!this.is.spots.length) this.next("repair");
  }

  save() {
    try {
      localStorage.setItem(this.name, JSON.stringify(this.is));
      this.kept = true;
    } catch { this.kept = false; }
  }

  get spot() { return this.is.spots[this.is.at]; }
  get read() { return this.is.spots.filter((spot) => spot.readings_um.length); }
  get n() { return this.is.spots.reduce((sum, spot) => sum + spot.readings_um.length, 0); }

  free_name(where) {
    const letter = this.letters[where];
    for (let i = 1; ; i += 1) if (!this.is.spots.some((spot) => spot.id === `${letter}${i}`)) return `${letter}${i}`;
  }

  /* The next spot: one that waits for readings, else a new one of this zone. */
  next(where) {
    const waits = this.is.spots.findIndex((spot, i) => i !== this.is.at && !spot.readings_um.length);
    const here = this.spot;
    if (waits >= 0) this.is.at = waits;
    else if (!here || here.readings_um.length) {
      this.is.spots.push({ id: this.free_name(where), where, readings_um: [] });
      this.is.at = this.is.spots.length - 1;
    }
    this.save();
  }

  /* An unread spot takes the zone and a name of that zone; after a reading a new spot begins. */
  zone(where) {
    const here = this.spot;
    if (here.where === where) return;
    if (here.readings_um.length) this.next(where);
    if (!this.spot.readings_um.length) { this.spot.where = where; this.spot.id = ""; this.spot.id = this.free_name(where); }
    this.save();
  }

  take(value_um, per_spot) {
    const here = this.spot;
    here.readings_um.push(value_um);
    this.is.log.push(here.id);
    if (here.readings_um.length >= per_spot) this.next(here.where);
    else this.save();
    return here;
  }

  undo() {
    const id = this.is.log.pop();
    const i = this.is.spots.findIndex((spot) => spot.id === id);
    if (i < 0) return null;
    const last = this.is.spots.at(-1);
    const value = this.is.spots[i].readings_um.pop();
    if (i !== this.is.at && this.is.at === this.is.spots.length - 1 && !last.readings_um.length && last.x === undefined) this.is.spots.pop();
    this.is.at = i;
    this.save();
    return { id, value };
  }

  /* Spots of a file or of earlier readings; a name that is taken already gets a stroke and a number. */
  add(spots) {
    if (!this.n) this.is.spots = this.is.spots.filter((spot) => spot.x !== undefined && spot.readings_um.length);
    for (const spot of spots) {
      let id = spot.id;
      for (let i = 2; this.is.spots.some((one) => one.id === id); i += 1) id = `${spot.id}/${i}`;
      this.is.spots.push({ id, where: spot.where || "repair", readings_um: [...(spot.readings_um || [])], ...(spot.x === undefined ? {} : { x: spot.x, y: spot.y }) });
      for (const _ of spot.readings_um || []) this.is.log.push(id);
    }
    this.is.at = Math.max(0, this.is.spots.findIndex((spot) => !spot.readings_um.length));
    if (this.spot && this.spot.readings_um.length) this.next("repair");
    this.save();
  }

  clear() {
    const { set } = this.is;
    this.is = { ...empty(), set };
    this.next("repair");
  }
}
