// How large is an outline, does it cross itself, and where does a pixel lie in millimetres? Pure functions; points are [x, y].

/** The signed area of a closed ring by the shoelace sum, about its first point to keep digits. */
export function signedArea(ring) {
  let sum = 0;
  const [x0, y0] = ring[0] ?? [0, 0];
  for (let i = 0; i < ring.length; i += 1) {
    const [xa, ya] = ring[i], [xb, yb] = ring[(i + 1) % ring.length];
    sum += (xa - x0) * (yb - y0) - (xb - x0) * (ya - y0);
  }
  return sum / 2;
}

/** Area of a closed ring, never negative. */
export const area = (ring) => Math.abs(signedArea(ring));

export const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);

/** Length of an open line, or of a closed one. */
export function lineLength(points, closed = false) {
  let sum = 0;
  for (let i = 1; i < points.length; i += 1) sum += distance(points[i - 1], points[i]);
  return closed && points.length > 2 ? sum + distance(points[points.length - 1], points[0]) : sum;
}

const turn = (a, b, c) => (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);

/** Corners of the convex hull (monotone chain). */
export function hull(points) {
  const sorted = [...points].sort((a, b) => a[0] - b[0] || a[1] - b[1]);
  if (sorted.length < 3) return sorted;
  const half = (list) => {
    const out = [];
    for (const p of list) {
      while (out.length > 1 && turn(out[out.length - 2], out[out.length - 1], p) <= 0) out.pop();
      out.push(p);
    }
    out.pop();
    return out;
  };
  return [...half(sorted), ...half(sorted.reverse())];
}

/** The longest distance between two points. */
export function greatestLength(points) {
  const corners = hull(points);
  let far = 0;
  for (let i = 0; i < corners.length; i += 1) {
    for (let j = i + 1; j < corners.length; j += 1) far = Math.max(far, distance(corners[i], corners[j]));
  }
  return far;
}

const between = (a, b, p) =>
  Math.min(a[0], b[0]) <= p[0] && p[0] <= Math.max(a[0], b[0]) && Math.min(a[1], b[1]) <= p[1] && p[1] <= Math.max(a[1], b[1]);

/** Where two segments meet, touching counted; null where they do not. */
export function meeting(a, b, c, d) {
  if (Math.max(a[0], b[0]) < Math.min(c[0], d[0]) || Math.max(c[0], d[0]) < Math.min(a[0], b[0])) return null;
  if (Math.max(a[1], b[1]) < Math.min(c[1], d[1]) || Math.max(c[1], d[1]) < Math.min(a[1], b[1])) return null;
  const abc = turn(a, b, c), abd = turn(a, b, d), cda = turn(c, d, a), cdb = turn(c, d, b);
  if (abc === 0 && between(a, b, c)) return c;
  if (abd === 0 && between(a, b, d)) return d;
  if (cda === 0 && between(c, d, a)) return a;
  if (cdb === 0 && between(c, d, b)) return b;
  if (abc > 0 === abd > 0 || cda > 0 === cdb > 0) return null;
  const t = cda / (cda - cdb);
  return [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
}

/** Pairs of segments of one closed ring that cross, touch or fold back: [{i, j, at}], segment i from point i to the next. */
export function crossings(ring, most = Infinity) {
  const n = ring.length, found = [];
  for (let i = 0; i < n && n > 2; i += 1) {
    const a = ring[i], b = ring[(i + 1) % n], c = ring[(i + 2) % n];
    const back = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1]);
    if (turn(a, b, c) === 0 && back < 0) found.push({ i, j: (i + 1) % n, at: b });
    for (let j = i + 2; j < n && found.length < most; j += 1) {
      if (i === 0 && j === n - 1) continue; // neighbours round the end
      const at = meeting(a, b, ring[j], ring[(j + 1) % n]);
      if (at) found.push({ i, j, at });
    }
    if (found.length >= most) break;
  }
  return found;
}

/** Where two closed rings meet. */
export function meetings(one, other, most = Infinity) {
  const found = [];
  for (let i = 0; i < one.length; i += 1) {
    for (let j = 0; j < other.length && found.length < most; j += 1) {
      const at = meeting(one[i], one[(i + 1) % one.length], other[j], other[(j + 1) % other.length]);
      if (at) found.push({ i, j, at });
    }
  }
  return found;
}

/** Whether a point lies inside a closed ring (even and odd). */
export function inside(ring, [x, y]) {
  let is = false;
  for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
    const [xa, ya] = ring[i], [xb, yb] = ring[j];
    if (ya > y !== yb > y && x < ((xb - xa) * (y - ya)) / (yb - ya) + xa) is = !is;
  }
  return is;
}

/** The edge nearest to a point: {index, distance, at, along}; edge ``index`` runs from that point to the next. */
export function nearestEdge(points, p, closed = true) {
  const n = points.length;
  let best = null;
  for (let i = 0; i < (closed ? n : n - 1); i += 1) {
    const a = points[i], b = points[(i + 1) % n];
    const dx = b[0] - a[0], dy = b[1] - a[1], square = dx * dx + dy * dy;
    const along = square ? Math.min(1, Math.max(0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square)) : 0;
    const at = [a[0] + along * dx, a[1] + along * dy], gap = distance(at, p);
    if (!best || gap < best.distance) best = { index: i, distance: gap, at, along };
  }
  return best;
}

/** A point through a homography of nine numbers, row by row. */
export function through(h, [x, y]) {
  const w = h[6] * x + h[7] * y + h[8];
  return [(h[0] * x + h[1] * y + h[2]) / w, (h[3] * x + h[4] * y + h[5]) / w];
}

/** The denominator of a homography at a point: its sign says on which side of the horizon the point lies. */
export const depth = (h, [x, y]) => h[6] * x + h[7] * y + h[8];

/** The way back through a homography, scaled so that the last number is one where that can be. */
export function inverse(h) {
  const [a, b, c, d, e, f, g, i, k] = h;
  const out = [e * k - f * i, c * i - b * k, b * f - c * e, f * g - d * k, a * k - c * g, c * d - a * f,
    d * i - e * g, b * g - a * i, a * e - b * d];
  const last = Math.abs(out[8]) > 1e-300 ? out[8] : 1;
  return out.map((v) => v / last);
}

/** A smooth closed curve through taps (centripetal Catmull–Rom), as points at most ``step`` apart along the chords. */
export function curveThrough(taps, step) {
  const n = taps.length, out = [];
  const mix = (a, b, ta, tb, t) => {
    const w = (t - ta) / (tb - ta);
    return [a[0] + (b[0] - a[0]) * w, a[1] + (b[1] - a[1]) * w];
  };
  for (let i = 0; i < n; i += 1) {
    const p = [-1, 0, 1, 2].map((k) => taps[(i + k + n) % n]);
    const t = [0];
    for (let k = 0; k < 3; k += 1) t.push(t[k] + Math.sqrt(Math.max(distance(p[k], p[k + 1]), 1e-9)));
    const pieces = Math.max(1, Math.ceil(distance(p[1], p[2]) / step));
    for (let k = 0; k < pieces; k += 1) {
      const at = t[1] + ((t[2] - t[1]) * k) / pieces;
      const [a1, a2, a3] = [0, 1, 2].map((m) => mix(p[m], p[m + 1], t[m], t[m + 1], at));
      out.push(mix(mix(a1, a2, t[0], t[2], at), mix(a2, a3, t[1], t[3], at), t[1], t[2], at));
    }
  }
  return out;
}

/** JSON text or a value as a value; null when it is neither. */
export function parsed(given) {
  if (typeof given !== "string") return given ?? null;
  try {
    return JSON.parse(given);
  } catch {
    return null;
  }
}
