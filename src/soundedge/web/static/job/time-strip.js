/* <time-strip data-entries="address"> round a time axis that the bench has drawn: the line for now moves by this device's clock, and a
   tap on a mark, or near one, opens its entry. Nothing else is drawn here.                                               */

const NEAR_PX = 24;

class TimeStrip extends HTMLElement {
  connectedCallback() {
    if (this.timer) return;
    this.timer = setInterval(() => this.move(), 15_000);
    this.addEventListener("click", (event) => this.open(event));
    this.move();
    const line = this.querySelector(".ts-now");
    const box = this.querySelector(".scroll");
    if (line && box) box.scrollLeft = line.getBoundingClientRect().left - box.getBoundingClientRect().left - box.clientWidth / 2;
  }

  disconnectedCallback() {
    clearInterval(this.timer);
    this.timer = 0;
  }

  /* data-axis: "second,px,second,px;…", a stretch of the axis each. */
  move() {
    const line = this.querySelector(".ts-now");
    if (!line) return;
    const now = Date.now() / 1000;
    const stretches = line.ownerSVGElement.dataset.axis.split(";").map((one) => one.split(",").map(Number));
    const [start, west, end, east] = stretches.find((one) => now <= one[2]) || stretches.at(-1);
    const share = Math.min(1, Math.max(0, (now - start) / (end - start)));
    line.setAttribute("transform", `translate(${(west + share * (east - west)).toFixed(1)} 0)`);
    line.querySelector("text").textContent = this.clock(line.dataset);
  }

  /* The bench has said how far its shop's clock is from the world's when it drew the line. */
  clock({ now, shown }) {
    const [hour, minute] = shown.split(":").map(Number);
    const drawn = new Date(now);
    const apart = (hour * 60 + minute) - (drawn.getUTCHours() * 60 + drawn.getUTCMinutes());
    const at = new Date(Date.now() + apart * 60_000);
    return `${String(at.getUTCHours()).padStart(2, "0")}:${String(at.getUTCMinutes()).padStart(2, "0")}`;
  }

  open(event) {
    let best = null;
    for (const mark of this.querySelectorAll("[data-entry]")) {
      const box = mark.getBoundingClientRect();
      const away = Math.hypot(Math.max(box.left - event.clientX, 0, event.clientX - box.right), Math.max(box.top - event.clientY, 0, event.clientY - box.bottom));
      const smaller = best && away === best.away && box.width < best.wide;
      if (away <= NEAR_PX && (!best || away < best.away || smaller)) best = { away, wide: box.width, entry: mark.dataset.entry };
    }
    if (best) location.href = this.dataset.entries + encodeURIComponent(best.entry);
  }
}

customElements.define("time-strip", TimeStrip);
