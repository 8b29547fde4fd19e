// Does the board say that it has grown old? <live-board data-stream="…" data-newer="words" data-ended="words"> shows the words when
// a job moved on, and the others when the bench tells it nothing any more (the session has ended).
class LiveBoard extends HTMLElement {
  connectedCallback() {
    if (!("EventSource" in window)) return;
    this.source = new EventSource(this.dataset.stream);
    this.source.addEventListener("job", () => this.say(this.dataset.newer));
    this.source.addEventListener("error", () => { if (this.source.readyState === EventSource.CLOSED) this.say(this.dataset.ended); });
    addEventListener("pagehide", () => this.source.close(), { once: true });
  }
  disconnectedCallback() { this.source?.close(); }
  say(words) {
    const line = this.querySelector("p");
    if (line.textContent === words) return;
    line.textContent = words;
    line.hidden = false;
  }
}
customElements.define("live-board", LiveBoard);
