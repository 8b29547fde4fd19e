/* <deciding-form action="/api/v1/jobs/KBW-2031-014/signatures" data-on-head="9f…"> round a plain <form>: sign, correct, void, decide.

   It is sent at once or not at all: you can record without network, you can't release without network. The password field is
   emptied after every try and is kept nowhere. When the job moved since the page was made, it says what was added.

   data-fixed    keys that are sent as they stand, as JSON
   data-then     "reload", or the address to go to when it is done
   "before-deciding" and "deciding-done" are dispatched here (detail.body; detail.answer).                               */

import { element, shape } from "./elements.js";
import { body_of, label_of, mark } from "./form-body.js";
import { chance } from "./keep.js";
import { kind_named, moment, said, word } from "./words.js";

class DecidingForm extends HTMLElement {
  connectedCallback() {
    if (this.form) return;
    this.form = this.querySelector("form");
    if (!this.form) return;
    this.form.noValidate = true;
    this.output = this.form.querySelector("output") || this.form.appendChild(document.createElement("output"));
    this.output.setAttribute("aria-live", "polite");
    this.output.id = this.output.id || `deciding-says-${chance(6)}`;
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.decide(); });
  }

  async decide() {
    if (this.busy) return;
    const found = body_of(this.form);
    mark(this.form, found.faults, this.output);
    if (found.faults.length) {
      this.say("square", found.faults.map(({ element, word: name }) => word(name, { field: label_of(element) })).join(" "));
      return;
    }
    this.busy = true;
    const passwords = [...this.form.querySelectorAll("input[type=password]")];
    const body = { ...(this.dataset.fixed ? JSON.parse(this.dataset.fixed) : {}), ...found.body, on_head: this.dataset.onHead };
    for (const one of passwords) if (one.name in body) body[one.name] = one.value; // a password may begin with a space
    if (found.at) body.at = found.at;
    body.id = this.name_of(body, passwords);
    try {
      if (!this.dispatchEvent(new CustomEvent("before-deciding", { bubbles: true, cancelable: true, detail: { body } }))) return;
      this.say("hourglass", word("asking"));
      await this.ask(body);
    } finally {
      for (const one of passwords) one.value = "";
      for (const one of passwords) delete body[one.name];
      this.busy = false;
    }
  }

  /* The same words get the same id: when the answer was lost, asking again does not decide twice. */
  name_of(body, passwords) {
    const words = JSON.stringify(Object.entries(body).filter(([key]) => !passwords.some((one) => one.name === key)));
    if (words !== this.words) {
      this.words = words;
      this.name = `${said("device") || "device"}-${chance(16)}`;
    }
    return this.name;
  }

  async ask(body) {
    let answer;
    let json = null;
    try {
      answer = await fetch(this.getAttribute("action"), {
        method: "POST", body: JSON.stringify(body), cache: "no-store", credentials: "same-origin", redirect: "manual",
        headers: { Accept: "application/json", "Content-Type": "application/json", "X-CSRFToken": said("csrf"), "Idempotency-Key": body.id },
        signal: AbortSignal.timeout(60000),
      });
      const text = await answer.text();
      if ((answer.headers.get("Content-Type") || "").includes("json")) json = JSON.parse(text);
    } catch {
      this.say("square", word("needs_network"));
      return;
    }
    if (answer.ok && json && json.outcome !== "refused" && json.outcome !== "conflict") {
      this.words = null;
      this.say("disc", word("decided"));
      const go_on = this.dispatchEvent(new CustomEvent("deciding-done", { bubbles: true, cancelable: true, detail: { answer: json } }));
      if (!go_on || !this.dataset.then) return;
      await moved_on();
      if (this.dataset.then === "reload") location.reload();
      else location.assign(this.dataset.then);
    } else if (answer.type === "opaqueredirect" || answer.status === 401) {
      this.say("square", word("sign_in_again"));
    } else if (answer.status === 409 || (json && json.outcome === "conflict")) {
      this.moved(json || {});
    } else {
      const sentence = json && (json.detail || (json.error && json.error.message));
      this.say("square", word("not_decided"), sentence || `HTTP ${answer.status}`);
    }
  }

  /* Somebody added to the job since this page was made: what, who, when; then look again. */
  moved(json) {
    this.say("square", word("moved"), json.detail || "");
    const list = document.createElement("ul");
    for (const one of json.changed || []) {
      list.append(element("li", word("moved_line", { no: one.no, kind: kind_named(one.kind).label, by: one.by, at: moment(one.at) })));
    }
    const button = element("button", word("look_again"));
    button.type = "button";
    button.addEventListener("click", () => moved_on().then(() => location.reload()));
    this.output.append(list, button);
  }

  say(state, text, sentence = "") {
    this.output.replaceChildren(shape(state), ` ${text}`, sentence ? ` ${sentence}` : "");
  }
}

/* The worker is told that this job has moved on, so that what is shown next is no copy from before while there is a network. */
function moved_on() {
  const worker = navigator.serviceWorker && navigator.serviceWorker.controller;
  if (!worker) return Promise.resolve();
  return new Promise((go) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = go;
    setTimeout(go, 1000);
    worker.postMessage({ moved: location.pathname }, [port2]);
  });
}

customElements.define("deciding-form", DecidingForm);
