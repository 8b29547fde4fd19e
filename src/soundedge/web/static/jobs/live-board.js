// Does the board say that it has grown old? <live-board data-stream="…" data-newer="words"> shows the words when a job moved on.
class LiveBoard extends HTMLElement {
  connectedCallback() {
    if (!("EventSource" in window)) return;
    this.source = new EventSource(this.dataset.stream);
    this.source.addEventListener("job", () => this.say());
    addEventListener("pagehide", () => this.source.close(), { once: true });
  }
  disconnectedCallback() { this.source?.close(); }
  say() {
    const line = this.querySelector("p");
    if (!line.hidden) return;
    line.textContent = this.dataset.newer;
    line.hidden = false;
  }
}
customElements.define("live-board", LiveBoard);
