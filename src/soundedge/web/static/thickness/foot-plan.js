/* <foot-plan> round a small drawing of the repair in the part's own millimetres (y goes up; the drawing has -y).
   Tap, click, or arrow keys and Enter. "placed" is dispatched with detail {x, y}; whoever wants it writes it down.
   element.marks = [{x, y, name}] shows what is there already.                                                        */

export class FootPlan extends HTMLElement {
  connectedCallback() {
    this.svg = this.querySelector("svg");
    if (!this.svg || this.at) return;
    const box = this.svg.viewBox.baseVal;
    this.at = { x: Math.round(box.x + box.width / 2), y: Math.round(-(box.y + box.height / 2)) };
    this.svg.addEventListener("click", (event) => {
      const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
      this.at = { x: Math.round(point.x), y: Math.round(-point.y) };
      this.place();
    });
    this.svg.addEventListener("focus", () => this.draw());
    this.svg.addEventListener("keydown", (event) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
      if (way) {
        event.preventDefault();
        const step = event.shiftKey ? 10 : 1;
        this.at = { x: this.at.x + step * way[0], y: this.at.y + step * way[1] };
        this.draw();
      } else if (event.key === "Enter" || event.key === " ") {
        event.preventDefault();
        this.place();
      }
    });
  }

  place() {
    this.draw();
    this.dispatchEvent(new CustomEvent("placed", { bubbles: true, detail: { ...this.at } }));
  }

  draw() {
    const cross = this.svg.querySelector("[data-cross]");
    cross.setAttribute("visibility", "visible");
    cross.setAttribute("transform", `translate(${this.at.x} ${-this.at.y})`);
    this.querySelector("[data-place]").textContent = `x ${this.at.x}, y ${this.at.y} mm`;
  }

  set marks(list) {
    const group = this.svg && this.svg.querySelector("[data-marks]");
    if (!group) return;
    const size = this.svg.viewBox.baseVal.width / 40;
    group.replaceChildren(...list.flatMap(({ x, y, name }) => {
      const dot = document.createElementNS("http://www.w3.org/2000/svg", "circle");
      for (const [key, value] of Object.entries({ cx: x, cy: -y, r: size / 2.5 })) dot.setAttribute(key, value);
      const text = document.createElementNS("http://www.w3.org/2000/svg", "text");
      for (const [key, value] of Object.entries({ x: x + size * 0.6, y: -y - size * 0.4, "font-size": size * 1.4 })) text.setAttribute(key, value);
      text.textContent = name;
      return [dot, text];
    }));
  }
}

customElements.define("foot-plan", FootPlan);
