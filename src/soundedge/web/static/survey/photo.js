// How is a photo of up to fifty million pixels shown upright and quickly? Unpacked once, with halved copies beside it.

const PIXELS_KEPT = 26_000_000; // of the largest copy held; a larger photo is shown from half its size
const SMALLEST_SIDE = 900;

export class Photo {
  /** ``width`` and ``height``: of the upright photo as it was taken, also where only a smaller copy is shown. */
  constructor(copies, width, height) {
    this.copies = copies; // largest first
    this.width = width;
    this.height = height;
  }

  close() {
    for (const copy of this.copies) copy.close();
  }

  /** Draw the part that falls on the given screen rectangle; ``scale``: screen pixels for one pixel of the photo. */
  draw(context, { left, top, scale, x, y, width, height, dense }) {
    const wanted = scale * dense * this.width;
    let copy = this.copies[0];
    for (const next of this.copies) if (next.width >= wanted) copy = next;
    const grow = copy.width / this.width, step = scale / grow; // screen pixels for one pixel of the copy
    const x0 = Math.max(0, Math.floor((x - left) / step)), y0 = Math.max(0, Math.floor((y - top) / step));
    const x1 = Math.min(copy.width, Math.ceil((x + width - left) / step)), y1 = Math.min(copy.height, Math.ceil((y + height - top) / step));
    if (x1 <= x0 || y1 <= y0) return;
    context.imageSmoothingEnabled = step < 3; // close up, the pixels themselves are shown
    context.imageSmoothingQuality = "medium";
    context.drawImage(copy, x0, y0, x1 - x0, y1 - y0, left + x0 * step, top + y0 * step, (x1 - x0) * step, (y1 - y0) * step);
  }
}

/**
 * Unpack a photo upright. ``source``: a Blob, or an address of this site. ``size``: [width, height] of the original
 * when the source is a smaller copy of it. Throws when it cannot be shown, or is no copy of a photo of that size.
 */
export async function readPhoto(source, size = null) {
  let blob = source;
  if (!(source instanceof Blob)) {
    const answer = await fetch(source, { credentials: "same-origin" });
    if (!answer.ok) throw new Error(String(answer.status));
    blob = await answer.blob();
  }
  let copy = await createImageBitmap(blob, { imageOrientation: "from-image" });
  let [width, height] = size ?? [copy.width, copy.height];
  const alike = (w, h) => Math.abs(w * copy.height - h * copy.width) <= 1.5 * Math.max(w, h);
  if (!alike(width, height)) {
    if (!alike(height, width)) throw new Error("size");
    [width, height] = [height, width]; // the size was said as stored, the photo is turned upright
  }
  if (copy.width * copy.height > PIXELS_KEPT) copy = await halved(copy, true);
  const copies = [copy];
  while (Math.max(copy.width, copy.height) > 2 * SMALLEST_SIDE) {
    copy = await halved(copy, false);
    copies.push(copy);
  }
  return new Photo(copies, width, height);
}

async function halved(copy, done) {
  const half = await createImageBitmap(copy, {
    resizeWidth: Math.round(copy.width / 2), resizeHeight: Math.round(copy.height / 2), resizeQuality: "medium",
  });
  if (done) copy.close();
  return half;
}
