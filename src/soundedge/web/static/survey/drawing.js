// What is drawn over the photo? Every line twice, dark inside light, so that it is seen on every photo and in the sun.

import { depth, through } from "./geometry.js";

const PLANE_REACH_MM = 60; // of the grid about the middle of the photo, when the card's window is not told

const LIGHT = "#fffdf7", DARK = "#1b1813";
const ROUND = Math.PI * 2;

/** A line through screen points, dark inside light. ``dash``: a pattern of the dark line. */
export function twice(context, points, { closed = false, dark = 2.5, light = 6, dash = [] } = {}) {
  if (points.length < 2) return;
  context.lineJoin = context.lineCap = dash.length ? "butt" : "round";
  context.beginPath();
  points.forEach(([x, y], i) => (i ? context.lineTo(x, y) : context.moveTo(x, y)));
  if (closed) context.closePath();
  for (const [colour, width, pattern] of [[LIGHT, light, []], [DARK, dark, dash]]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.setLineDash(pattern);
    context.stroke();
  }
  context.setLineDash([]);
}

/** A point: a ring that leaves its pixel open; the chosen one stands in a square. */
function knob(context, [x, y], { chosen, last, small }) {
  const r = small ? 3 : 6.5;
  for (const [colour, width] of [[LIGHT, 6], [DARK, 2.5]]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    context.arc(x, y, r, 0, ROUND);
    if (chosen) context.rect(x - 13, y - 13, 26, 26);
    context.stroke();
  }
  if (last && !small) {
    context.fillStyle = DARK;
    context.beginPath();
    context.arc(x, y, 2, 0, ROUND);
    context.fill();
  }
}

/** A crossing: a cross in a ring. */
function crossed(context, [x, y]) {
  context.fillStyle = LIGHT;
  context.beginPath();
  context.arc(x, y, 14, 0, ROUND);
  context.fill();
  context.strokeStyle = DARK;
  context.lineWidth = 4;
  context.beginPath();
  context.arc(x, y, 12, 0, ROUND);
  context.moveTo(x - 7, y - 7);
  context.lineTo(x + 7, y + 7);
  context.moveTo(x - 7, y + 7);
  context.lineTo(x + 7, y - 7);
  context.stroke();
}

/** Segment k of a closed line, with what follows and precedes it over ``reach`` screen pixels each: a curve has short segments. */
function stretch(shape, k, reach) {
  const n = shape.length, out = [shape[k], shape[(k + 1) % n]];
  const long = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
  if (long(...out) > reach) return out;
  for (let s = 2, gone = 0; s < n / 2 && gone < reach; s += 1) {
    out.push(shape[(k + s) % n]);
    gone += long(out[out.length - 2], out[out.length - 1]);
  }
  for (let s = 1, gone = 0; s < n / 2 && gone < reach; s += 1) {
    out.unshift(shape[(k - s + n) % n]);
    gone += long(out[0], out[1]);
  }
  return out;
}

/** The outline with its islands, points and faults. ``to``: photo pixels to the screen. */
export function drawOutline(context, outline, faults, to, { points = true, trace = false } = {}) {
  outline.rings.forEach((ring, number) => {
    const shape = outline.drawn(number).map(to), closed = !outline.open && ring.length > 2;
    const active = number === outline.ring;
    if (closed && trace && active && ring.length > 1 && shape.length === ring.length) {
      twice(context, [shape[shape.length - 1], shape[0]], { dark: 2, dash: [5, 6] }); // closes by itself
      twice(context, shape);
    } else {
      twice(context, shape, { closed, dark: number ? 2 : 2.5 });
    }
    for (const fault of faults.filter((one) => one.ring === number && one.what === "crosses")) {
      for (const { i, j } of fault.marks) {
        for (const k of [i, j]) twice(context, stretch(shape, k, 44), { dark: 7, light: 12, dash: [9, 6] });
      }
    }
    if (!points) return;
    const seen = ring.map(to);
    const crowded = seen.length > 40 && seen.some((p, i) => i && Math.hypot(p[0] - seen[i - 1][0], p[1] - seen[i - 1][1]) < 14);
    seen.forEach((p, i) => {
      const chosen = active && i === outline.chosen;
      if (!crowded || chosen || i % 4 === 0) knob(context, p, { chosen, last: active && i === ring.length - 1, small: crowded && !chosen });
    });
  });
  for (const fault of faults) for (const { at } of fault.marks.slice(0, 12)) crossed(context, to(at));
}

/** A suggested edge: dots. */
export function drawSuggestion(context, points, to) {
  let before = null;
  for (const p of points) {
    const [x, y] = to(p);
    if (before && Math.hypot(x - before[0], y - before[1]) < 11) continue;
    before = [x, y];
    for (const [colour, r] of [[LIGHT, 4.6], [DARK, 2.8]]) {
      context.fillStyle = colour;
      context.beginPath();
      context.arc(x, y, r, 0, ROUND);
      context.fill();
    }
  }
}

/**
 * Ruled millimetres in the photo's perspective, inside ``region`` [left, bottom, right, top] mm.
 * Every 10 mm; every millimetre where one covers eight screen pixels or more.
 */
export function drawGrid(context, outline, region, to, sight) {
  const back = outline.planeBack, plane = outline.plane;
  if (!back) return;
  const [left, bottom, right, top] = region;
  const middle = [(left + right) / 2, (bottom + top) / 2];
  const side = Math.sign(depth(back, middle));
  const at = (p) => (Math.sign(depth(back, p)) === side ? to(through(back, p)) : null);
  const here = at(middle), beside = at([middle[0] + 1, middle[1]]);
  if (!here || !beside) return;
  const mm = Math.hypot(beside[0] - here[0], beside[1] - here[1]);
  const fine = mm >= 8;
  // only what is seen is ruled
  const seen = [[0, 0], [sight.width, 0], [sight.width, sight.height], [0, sight.height]].map((p) => through(plane, sight.toPhoto(p)));
  const clip = fine ? [0, 1].flatMap((k) => [Math.min(...seen.map((p) => p[k])), Math.max(...seen.map((p) => p[k]))]) : [left, right, bottom, top];
  const rule = (low, high, ends) => {
    for (let v = Math.ceil(low); v <= high; v += 1) {
      const ten = v % 10 === 0;
      if (!ten && !fine) continue;
      const [a, b] = ends(v).map(at);
      if (!a || !b) continue;
      for (const [colour, width] of [[`rgb(255 253 247 / ${ten ? 0.75 : 0.3})`, ten ? 3 : 1.2], [`rgb(27 24 19 / ${ten ? 0.8 : 0.35})`, ten ? 1.2 : 0.6]]) {
        context.strokeStyle = colour;
        context.lineWidth = width;
        context.beginPath();
        context.moveTo(...a);
        context.lineTo(...b);
        context.stroke();
      }
    }
  };
  rule(Math.max(left, clip[0]), Math.min(right, clip[1]), (x) => [[x, bottom], [x, top]]);
  rule(Math.max(bottom, clip[2]), Math.min(top, clip[3]), (y) => [[left, y], [right, y]]);
}

/** The cross hair of the keyboard. */
export function drawCross(context, [x, y], held) {
  for (const [a, b] of [[-26, -7], [7, 26]]) {
    twice(context, [[x + a, y], [x + b, y]], { dark: 2 });
    twice(context, [[x, y + a], [x, y + b]], { dark: 2 });
  }
  if (held) knob(context, [x, y], { chosen: true });
}

/** Which corner a magnifier of this radius stands in: where it was, unless the finger comes near; then the farthest. */
export function loupePlace(sight, finger, radius, before) {
  const edge = radius + 8;
  const corners = [[edge, edge], [sight.width - edge, edge], [edge, sight.height - edge], [sight.width - edge, sight.height - edge]];
  const gap = (p) => Math.hypot(p[0] - finger[0], p[1] - finger[1]);
  if (before !== null && gap(corners[before]) > radius + 60) return [before, corners[before]];
  let best = 0;
  corners.forEach((corner, i) => { if (gap(corner) > gap(corners[best]) + 1) best = i; });
  return [best, corners[best]];
}

/** A magnifier with a cross hair at the exact pixel: four times the photo's present size, at least pixel by pixel. */
export function drawLoupe(context, { place, radius, target, photo, outline, faults, scale, dense }) {
  const [cx, cy] = place;
  const left = cx - (target[0] + 0.5) * scale, top = cy - (target[1] + 0.5) * scale;
  const to = ([x, y]) => [(x + 0.5) * scale + left, (y + 0.5) * scale + top];
  context.save();
  context.beginPath();
  context.arc(cx, cy, radius, 0, ROUND);
  context.fillStyle = "#453f34";
  context.fill();
  context.clip();
  photo.draw(context, { left, top, scale, x: cx - radius, y: cy - radius, width: 2 * radius, height: 2 * radius, dense });
  drawOutline(context, outline, faults, to, { points: false });
  for (const [a, b] of [[-radius, -8], [8, radius]]) {
    twice(context, [[cx + a, cy], [cx + b, cy]], { dark: 1.5, light: 4 });
    twice(context, [[cx, cy + a], [cx, cy + b]], { dark: 1.5, light: 4 });
  }
  const pixel = Math.max(scale, 5);
  const [px, py] = to([Math.round(target[0]), Math.round(target[1])]);
  for (const [colour, width] of [[LIGHT, 3], [DARK, 1.2]]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.strokeRect(px - pixel / 2, py - pixel / 2, pixel, pixel);
  }
  context.restore();
  for (const [colour, width] of [[LIGHT, 7], [DARK, 3]]) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    context.arc(cx, cy, radius, 0, ROUND);
    context.stroke();
  }
}

/** Where millimetres are ruled: the card's window, or a square about the middle of the photo. */
export function ruledRegion(outline, window) {
  const corners = window?.map((p) => through(outline.plane, p));
  if (corners) return [0, 1].map((k) => Math.min(...corners.map((p) => p[k]))).concat([0, 1].map((k) => Math.max(...corners.map((p) => p[k]))));
  const [x, y] = through(outline.plane, [outline.size[0] / 2, outline.size[1] / 2]);
  return [x - PLANE_REACH_MM, y - PLANE_REACH_MM, x + PLANE_REACH_MM, y + PLANE_REACH_MM];
}
