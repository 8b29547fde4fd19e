/* <heat-chart data-points='[{time_s, reading_c, aimed_at}]' data-fusion data-limit>: readings against time, black on white; what was
   aimed at is told by the mark and the dashes, and everything stands in words beside the picture.                       */

const SVG = "http://www.w3.org/2000/svg";
const WIDE = 640;
const HIGH = 300;
const LEFT = 56;
const RIGHT = 14;
const TOP = 16;
const FOOT = 42;
const DASH = { back_contact: "", polymer: "7 4", painted_dot: "2 4", ground_steel: "1 7" };

const make = (name, facts, text) => {
  const one = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(facts)) one.setAttribute(key, value);
  if (text !== undefined) one.textContent = text;
  return one;
};

export const clock_of = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

class HeatChart extends HTMLElement {
  connectedCallback() {
    if (this.svg) return;
    this.svg = make("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img" });
    this.words = document.createElement("p");
    this.prepend(this.svg, this.words);
    if (this.dataset.points) this.draw(JSON.parse(this.dataset.points));
  }

  word(name, values = {}) {
    const found = this.querySelector(`template[data-word="${name}"]`);
    const text = found ? found.content.textContent.trim().replace(/\s+/g, " ") : name;
    return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? values[key] : whole));
  }

  shown(c) { return (c - Number(this.dataset.offset)) / Number(this.dataset.factor); }

  draw(points) {
    this.hidden = !points.length;
    if (!points.length) return;
    const fusion = Number(this.dataset.fusion);
    const limit = Number(this.dataset.limit);
    const temperatures = [...points.map((one) => one.reading_c), fusion, limit].map((c) => this.shown(c));
    const low = Math.floor((Math.min(...temperatures) - 10) / 50) * 50;
    const high = Math.ceil((Math.max(...temperatures) + 10) / 50) * 50;
    const end = Math.max(60, ...points.map((one) => one.time_s));
    const x = (s) => LEFT + (s / end) * (WIDE - LEFT - RIGHT);
    const y = (t) => TOP + ((high - t) / (high - low)) * (HIGH - TOP - FOOT);
    const parts = [make("rect", { width: WIDE, height: HIGH, class: "ground" })];
    for (let t = low; t <= high; t += high - low > 400 ? 100 : 50) {
      parts.push(make("path", { d: `M${LEFT} ${y(t)}H${WIDE - RIGHT}`, class: "grid" }), make("text", { x: LEFT - 6, y: y(t) + 5, "text-anchor": "end" }, t));
    }
    const step = [1, 2, 5, 10, 20, 30, 60, 120, 240].find((m) => end / 60 / m <= 7) || 480;
    for (let m = 0; m * 60 <= end; m += step) parts.push(make("path", { d: `M${x(m * 60)} ${HIGH - FOOT}v6`, class: "axis" }), make("text", { x: x(m * 60), y: HIGH - FOOT + 20, "text-anchor": "middle" }, m));
    parts.push(make("text", { x: WIDE - RIGHT, y: HIGH - 6, "text-anchor": "end" }, this.word("minutes")), make("text", { x: 4, y: 13 }, this.dataset.unit));
    for (const [name, c] of [["fusion", fusion], ["limit", limit]]) {
      const at = y(this.shown(c));
      parts.push(make("path", { d: `M${LEFT} ${at}H${WIDE - RIGHT}`, class: "rule" }), make("text", { x: WIDE - RIGHT - 4, y: at - 5, "text-anchor": "end", class: "halo" }, `${this.word(name)} ${Math.round(this.shown(c))}`));
    }
    const lines = [];
    for (const aim of Object.keys(DASH)) {
      const own = points.filter((one) => one.aimed_at === aim);
      if (!own.length) continue;
      const places = own.map((one) => [x(one.time_s), y(this.shown(one.reading_c))]);
      parts.push(make("path", { d: `M${places.map((one) => one.map((n) => n.toFixed(1)).join(" ")).join("L")}`, class: "line", "stroke-dasharray": DASH[aim] }));
      for (const [px, py] of places) parts.push(mark(aim, px, py));
      const hottest = own.reduce((a, b) => (b.reading_c > a.reading_c ? b : a));
      lines.push(this.word("line", { aim: this.word(aim), n: own.length, c: `${Math.round(this.shown(hottest.reading_c))}\u00a0${this.dataset.unit}`, time: clock_of(hottest.time_s) }));
      const [px, py] = places.at(-1);
      parts.push(make("text", { x: Math.min(px, WIDE - RIGHT) - 8, y: py - 9, "text-anchor": "end", class: "halo" }, this.word(aim)));
    }
    this.svg.replaceChildren(...parts);
    const said = this.word("name", { lines: lines.join(" ") });
    this.svg.setAttribute("aria-label", said);
    this.words.textContent = said;
  }
}

function mark(aim, x, y) {
  if (aim === "polymer") return make("rect", { x: x - 4, y: y - 4, width: 8, height: 8, class: "mark hollow" });
  if (aim === "painted_dot") return make("path", { d: `M${x} ${y - 5}l5 9h-10z`, class: "mark hollow" });
  if (aim === "ground_steel") return make("path", { d: `M${x - 4} ${y - 4}l8 8m0 -8l-8 8`, class: "line" });
  return make("circle", { cx: x, cy: y, r: 4.5, class: "mark" });
}

customElements.define("heat-chart", HeatChart);
