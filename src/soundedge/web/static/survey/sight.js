// Which part of the photo is seen, and how large? Photo pixels to screen pixels and back.
//
// (0, 0) is the centre of the photo's first pixel, so that pixel covers −½ to ½ in both directions.

const LARGEST = 32; // screen pixels for one pixel of the photo

export class Sight {
  width = 1; height = 1; // of the screen's part, CSS pixels
  photoWidth = 1; photoHeight = 1;
  scale = 1; left = 0; top = 0; // screen place of the photo's upper left corner
  fitted = true;

  /** The whole photo, in the middle. */
  fit() {
    this.scale = this.fitScale;
    this.left = (this.width - this.photoWidth * this.scale) / 2;
    this.top = (this.height - this.photoHeight * this.scale) / 2;
    this.fitted = true;
  }

  get fitScale() {
    return Math.min(this.width / this.photoWidth, this.height / this.photoHeight);
  }

  resize(width, height) {
    const middle = this.toPhoto([this.width / 2, this.height / 2]);
    this.width = Math.max(width, 1);
    this.height = Math.max(height, 1);
    if (this.fitted) return this.fit();
    this.centre(middle);
  }

  toScreen([x, y]) {
    return [(x + 0.5) * this.scale + this.left, (y + 0.5) * this.scale + this.top];
  }

  toPhoto([x, y]) {
    return [(x - this.left) / this.scale - 0.5, (y - this.top) / this.scale - 0.5];
  }

  zoom(factor, about = [this.width / 2, this.height / 2]) {
    const to = Math.min(LARGEST, Math.max(this.fitScale * 0.75, this.scale * factor));
    const kept = this.toPhoto(about);
    this.scale = to;
    const [x, y] = this.toScreen(kept);
    this.left += about[0] - x;
    this.top += about[1] - y;
    this.fitted = false;
    this.#hold();
  }

  pan(dx, dy) {
    this.left += dx;
    this.top += dy;
    this.fitted = false;
    this.#hold();
  }

  centre(photoPoint) {
    const [x, y] = this.toScreen(photoPoint);
    this.pan(this.width / 2 - x, this.height / 2 - y);
  }

  /** Bring a place of the photo into the seen part, with a margin. */
  show(photoPoint, margin = 40) {
    const [x, y] = this.toScreen(photoPoint);
    const dx = x < margin ? margin - x : Math.min(0, this.width - margin - x);
    const dy = y < margin ? margin - y : Math.min(0, this.height - margin - y);
    if (dx || dy) this.pan(dx, dy);
  }

  /** The photo never leaves the screen whole. */
  #hold() {
    const some = Math.min(80, this.width / 3, this.height / 3);
    this.left = Math.min(this.width - some, Math.max(some - this.photoWidth * this.scale, this.left));
    this.top = Math.min(this.height - some, Math.max(some - this.photoHeight * this.scale, this.top));
  }
}
