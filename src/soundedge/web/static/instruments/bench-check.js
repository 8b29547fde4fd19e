/* <bench-check>: a gauge checked at the bench is written into the record of the job that is chosen. */

class BenchCheck extends HTMLElement {
  connectedCallback() {
    const job = this.querySelector("[data-job]");
    const form = this.querySelector("entry-form");
    if (!job || !form) return;
    job.addEventListener("change", () => form.setAttribute("job", job.value));
    form.setAttribute("job", job.value); // a browser keeps what was chosen over a reload
  }
}

customElements.define("bench-check", BenchCheck);
