/* <heat-planner data-start>: asks the bench to work the plan out, and asks again until it is there. What is shown is the bench's own
   piece of page, progress in words included.                                                                            */

import { said } from "../outbox/words.js";

const AGAIN_MS = 1000;

class HeatPlanner extends HTMLElement {
  connectedCallback() {
    if (this.box) return;
    this.box = this.querySelector("[data-answer]");
    this.button = this.querySelector("[data-work]");
    this.button.addEventListener("click", () => this.load(this.dataset.start, "POST"));
    if (this.dataset.asked) this.load(this.dataset.asked, "GET");
  }

  disconnectedCallback() { clearTimeout(this.timer); }

  async load(address, method) {
    this.button.disabled = true;
    let answer;
    try {
      answer = await fetch(address, { method, credentials: "same-origin", cache: "no-store", headers: { "X-CSRFToken": said("csrf") } });
    } catch {
      return this.stop("offline");
    }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    if (answer.status === 404 || (answer.status === 422 && method === "GET")) return this.stop("gone");
    const piece = page.body.querySelector("[data-state]") || page.body.querySelector("main");
    if (!piece || answer.redirected) return this.stop("gone");
    this.box.replaceChildren(document.adoptNode(piece));
    if (piece.dataset.poll) this.timer = setTimeout(() => this.load(piece.dataset.poll, "GET"), AGAIN_MS);
    else this.button.disabled = false;
  }

  stop(word) {
    this.button.disabled = false;
    this.box.replaceChildren(this.querySelector(`template[data-word="${word}"]`).content.cloneNode(true));
  }
}

customElements.define("heat-planner", HeatPlanner);
