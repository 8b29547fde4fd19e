/* <fire-watch data-job data-minutes="60"> round a <word-clock>: the watch begins the moment the end of heat is written down on this
   device, network or not, and still runs when the page is loaded again before the entry was sent. The end of the watch is
   filled in beforehand, from now, until somebody changes it.                                                            */

import { outbox } from "../outbox/outbox.js";

const KIND = "hot_work.ended";

class FireWatch extends HTMLElement {
  connectedCallback() {
    this.clock = this.querySelector("word-clock");
    this.minutes = Number(this.dataset.minutes);
    document.addEventListener("outbox:kept", ({ detail }) => this.take(detail.item));
    outbox.all().then((items) => items.forEach((item) => this.take(item))).catch(() => {});
    this.fill();
    this.timer = setInterval(() => this.fill(), 15000);
  }

  disconnectedCallback() { clearInterval(this.timer); }

  /* The later of what the watcher wrote and what the procedure asks for. */
  take(item) {
    if (!item || item.kind !== KIND || item.job !== this.dataset.job || ["refused", "conflict"].includes(item.state)) return;
    const until = Math.max(Date.parse(item.body.fire_watch_until), Date.parse(item.at) + this.minutes * 60000);
    if (Number.isNaN(until) || until <= Date.parse(this.clock.dataset.until || 0)) return;
    this.clock.dataset.until = new Date(until).toISOString();
  }

  fill() {
    const field = document.querySelector(`entry-form[kind="${KIND}"] [name="fire_watch_until"]`);
    if (!field || field.dataset.touched) return;
    if (!field.dataset.heard) {
      field.dataset.heard = "1";
      field.addEventListener("input", () => { field.dataset.touched = "1"; });
    }
    const at = new Date(Math.ceil((Date.now() + this.minutes * 60000) / 60000) * 60000 + 60000);
    const two = (n) => String(n).padStart(2, "0");
    field.value = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}T${two(at.getHours())}:${two(at.getMinutes())}`;
    field.defaultValue = field.value;
  }
}

customElements.define("fire-watch", FireWatch);
