/* What does a line from a gauge say? Only the trivial is read here: numbers, with a unit beside them if there is one.
   Anything that could be read in two ways is refused as a whole; nothing is taken from such a line.

   read_line("43,3 mil")          → {values_um: [1099.82]}
   read_line("1023 1031;1040")    → {values_um: [1023, 1031, 1040]}
   read_line("1,100")             → {fault: "two_ways"}                                                              */

import { in_house_units } from "../outbox/form-body.js";

export const TO_UM = { um: 1, mil: 25.4, mm: 1000 };
const SPELLED = { "µm": "um", "μm": "um", um: "um", micron: "um", microns: "um", mic: "um", mil: "mil", mils: "mil", mm: "mm" };
const LINE_MAX = 500;
const FILM_MAX_UM = 20000;

export function read_line(text, unit) {
  const fault = (word, piece = text) => ({ fault: word, text: piece.trim().slice(0, 60) });
  if (text.length > LINE_MAX) return fault("not_number");
  const pieces = text.trim().match(/[^\s;]+(?:[ ]?(?:µm|μm|um|microns?|mic|mils?|mm)(?![\w]))?/gi) || [];
  if (!pieces.length) return fault("not_number");
  const values = [];
  for (const whole of pieces) {
    const piece = pieces.length > 1 ? whole.replace(/,$/, "") : whole; // "1023, 1031"
    const found = /^([+\-\u2212]?)(\d+(?:[.,]\d*)?|[.,]\d+)\s*(µm|μm|um|microns?|mic|mils?|mm)?$/i.exec(piece);
    if (!found) return fault("not_number", text);
    const [, sign, digits, own] = found;
    const used = own ? SPELLED[own.toLowerCase()] : unit;
    if (sign && sign !== "+" && Number(digits.replace(",", "."))) return fault("negative", text);
    if (doubtful(digits, used)) return fault("two_ways", text);
    const value = in_house_units(Number(digits.replace(",", ".")), TO_UM[used]);
    if (!(value <= FILM_MAX_UM)) return fault("too_large", text);
    values.push(value);
  }
  return { values_um: values };
}

/* Three digits or more after the sign: decimals, or thousands, or two numbers run together? Only in mm is it plain. */
function doubtful(digits, unit) {
  const [, after] = digits.split(/[.,]/);
  if (after === undefined || after.length < 3) return false;
  return unit === "mm" ? after.length > 3 : unit === "um" || digits.includes(",");
}

/* Bytes of a cable cut into lines; what has not ended yet is held back. */
export class Cut {
  rest = "";

  feed(text) {
    const lines = (this.rest + text).split(/\r\n|\n|\r(?!$)/);
    this.rest = lines.pop();
    if (this.rest.length > LINE_MAX) { lines.push(this.rest); this.rest = ""; }
    return lines.filter((line) => line.replace(/[\0\s]/g, ""));
  }

  end() {
    const last = this.rest;
    this.rest = "";
    return last.trim() ? [last] : [];
  }
}
