/* How does a photo become a damage in the record? It is taken, looked at at once, its edge tapped, and written down.

   <survey-page data-job data-card data-measured>: with network the bench looks at the photo before it is outlined and measures the
   outline before it is written down; without, photo and outline wait in the outbox. What the bench says comes as a piece of the
   page from its own templates; this script holds no words.                                                              */

import { element, kept_refusal, quiet_button, shape } from "../outbox/elements.js";
import { body_of, fill, lines_in, number_of, typed_in } from "../outbox/form-body.js";
import { outbox } from "../outbox/outbox.js";
import { said } from "../outbox/words.js";

const PHOTO_MS = 120000;
const ASK_MS = 60000;

class SurveyPage extends HTMLElement {
  photo = null; // the Blob as it was taken
  digest = null; // its name at the bench, once it is there
  outline = null; // the confirmed outline
  turn = 0;

  connectedCallback() {
    if (this.editor) return;
    this.editor = this.querySelector("outline-editor");
    this.form = this.querySelector("[data-form]");
    for (const input of this.querySelectorAll("input[data-photo]")) input.addEventListener("change", () => this.take(input));
    this.querySelector("[data-check-card]").addEventListener("click", () => { this.keep_card(); this.look(); });
    this.querySelector("[data-kind]").addEventListener("change", () => this.kind());
    this.editor.addEventListener("outline:confirmed", (event) => this.measure(event.detail));
    this.editor.addEventListener("outline:changed", () => this.unconfirmed());
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.write(); });
    for (const name of ["outbox:stored", "outbox:refused", "outbox:conflict"]) document.addEventListener(name, (event) => this.hear(event));
    this.fill_card();
    this.kind();
    this.refused_before();
  }

  part(name) { return this.querySelector(`[data-${name}]`); }

  word(name, values = {}) {
    const found = this.querySelector("template[data-survey-words]").content.querySelector(`[data-word="${name}"]`);
    return (found ? found.textContent.trim() : "").replace(/\{(\w+)\}/g, (whole, key) => values[key] ?? whole);
  }

  say(where, state, text, theirs = "") {
    const place = this.querySelector(`[data-says="${where}"]`);
    place.replaceChildren();
    if (text || theirs) place.append(shape(state), ` ${text} `, theirs);
  }

  // ---------------------------------------------------------------- the card in hand
  get card() {
    const card = {};
    for (const input of this.querySelectorAll("[data-card-field]")) {
      const key = input.dataset.cardField;
      const value = input.type === "date" ? input.value || null : input.value.trim() ? number_of(input.value) : null;
      if (value !== null) card[key] = value;
    }
    return card;
  }

  get card_place() { return `survey-card:${said("shop")}`; }

  keep_card() {
    try { localStorage.setItem(this.card_place, JSON.stringify(this.card)); } catch { /* it is typed again next time */ }
  }

  fill_card() {
    let kept = {};
    try { kept = JSON.parse(localStorage.getItem(this.card_place) || "{}"); } catch { /* nothing kept */ }
    for (const input of this.querySelectorAll("[data-card-field]")) {
      if (kept[input.dataset.cardField] !== undefined) input.value = kept[input.dataset.cardField];
      input.addEventListener("change", () => this.keep_card());
    }
    if (kept.bar_x_mm === undefined || kept.bar_y_mm === undefined) this.part("bars").open = true;
  }

  kind() {
    const kind = this.part("kind").value;
    this.editor.setAttribute("kind", kind);
    this.part("band").hidden = kind !== "crack";
  }

  // ---------------------------------------------------------------- the photo
  async take(input) {
    const [file] = input.files;
    if (!file) return;
    this.turn += 1;
    const turn = this.turn;
    this.photo = file;
    this.digest = null;
    this.outline = null;
    this.part("card-answer").replaceChildren();
    this.part("measured-answer").replaceChildren();
    this.part("stored-answer").replaceChildren();
    this.say("edge", "dash", "");
    this.say("kept", "dash", "");
    for (const name of ["snap-url", "plane", "window-px"]) this.editor.removeAttribute(name);
    this.editor.plane = null;
    this.editor.windowPx = null;
    this.editor.value = { kind: this.part("kind").value, outline_px: [], holes_px: [], joined: "curve", confirmed: false };
    this.part("what").hidden = true;
    this.part("edge").hidden = false;
    this.editor.photo = file;
    this.say("photo", "hourglass", this.word("sending"));
    const answer = await this.call("/api/v1/photos", file, file.type || "image/jpeg", PHOTO_MS);
    if (turn !== this.turn) return;
    input.value = "";
    if (!answer) { this.say("photo", "hourglass", this.word("offline")); return; }
    if (!answer.ok) {
      this.say("photo", "cross", this.word("not_taken"), await sentence_of(answer));
      this.part("edge").hidden = true;
      this.photo = null;
      return;
    }
    this.digest = (await answer.json()).sha256;
    await this.look();
  }

  /* Can it be measured? Say it while they are still there. */
  async look() {
    if (!this.digest) return;
    const turn = this.turn;
    this.say("photo", "hourglass", this.word("looking"));
    this.editor.card = this.card;
    const answer = await this.call(this.dataset.card, JSON.stringify({ sha256: this.digest, card: this.card }));
    if (turn !== this.turn) return;
    if (!answer) { this.say("photo", "hourglass", this.word("offline")); return; }
    if (!answer.ok) { this.say("photo", "cross", this.word("not_taken"), await sentence_of(answer)); return; }
    const piece = await this.piece(answer, this.part("card-answer"));
    this.say("photo", "dash", "");
    if (!piece) return;
    const { plane, window: corners } = JSON.parse(piece.dataset.plane);
    if (piece.dataset.good === "yes") this.part("bars").open = false; // the edge is next; the bars are a touch away
    this.editor.plane = plane;
    this.editor.windowPx = corners;
    this.editor.setAttribute("csrf-token", said("csrf"));
    this.editor.setAttribute("csrf-header", "X-CSRFToken");
    this.editor.setAttribute("snap-url", `/api/v1/photos/${this.digest}/snap`);
    this.part("edge").hidden = piece.dataset.good !== "yes";
    this.part("what").hidden = this.part("edge").hidden || !this.outline;
  }

  // ---------------------------------------------------------------- the edge
  unconfirmed() {
    if (!this.outline) return;
    this.outline = null;
    this.part("measured-answer").replaceChildren();
    this.say("edge", "dash", "");
  }

  async measure(value) {
    this.outline = { ...value, confirmed: true, by: said("person") };
    const band = this.part("band").querySelector("input");
    if (value.kind === "crack" && band.value.trim()) this.outline.band_mm = number_of(band.value) * Number(band.dataset.factor || 1);
    this.part("what").hidden = false;
    const turn = this.turn;
    if (!this.digest) { this.say("edge", "hourglass", this.word("offline_edge")); return this.go_on(); }
    this.say("edge", "hourglass", this.word("measuring"));
    const answer = await this.call(this.dataset.measured, JSON.stringify({ sha256: this.digest, outline: this.outline, card: this.card }));
    if (turn !== this.turn || !this.outline) return undefined;
    if (!answer) { this.say("edge", "hourglass", this.word("offline_edge")); return this.go_on(); }
    if (!answer.ok) return this.say("edge", "cross", "", await sentence_of(answer));
    await this.piece(answer, this.part("measured-answer"));
    this.say("edge", "dash", "");
    return this.go_on();
  }

  go_on() {
    this.part("measured-answer").scrollIntoView({ block: "nearest" });
  }

  // ---------------------------------------------------------------- written down
  async write() {
    if (this.busy) return;
    if (!this.outline || !(this.photo || this.digest)) { this.say("kept", "square", this.word("confirm_first")); return; }
    const found = body_of(this.form);
    for (const input of this.form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
    if (found.faults.length) {
      for (const { element } of found.faults) element.setAttribute("aria-invalid", "true");
      const names = found.faults.map(({ element }) => element.labels[0].textContent.trim().replace(/\s+/g, " "));
      this.say("kept", "square", `${this.word("needed")} ${names.join(", ")}`);
      found.faults[0].element.focus();
      return;
    }
    this.busy = true;
    this.say("kept", "", ""); // what was said of the one before is not said of this one
    const body = { ...found.body, outline: this.outline, card: this.card };
    if (this.digest) body.photo_sha256 = this.digest;
    try {
      const item = await outbox.put({
        job: this.dataset.job, kind: "damage", body, photo: this.photo || undefined, photo_sha256: this.digest || undefined,
        typed: typed_in(this.form), lines: lines_in(this.form), replaces: this.replaces || undefined,
      });
      this.last = item.key;
      this.replaces = null;
      this.say("kept", "pencil", this.word("kept"));
    } catch (fault) {
      this.say("kept", "square", this.word("full", { why: (fault && fault.message) || "" }));
    } finally {
      this.busy = false;
    }
  }

  hear({ type, detail }) {
    if (!detail || !detail.item || detail.item.key !== this.last) return;
    if (type === "outbox:stored") {
      const survey = detail.answer.survey || {};
      const refused = Boolean(survey.refused && survey.refused.length);
      this.say("kept", refused ? "square" : "disc", this.word(refused ? "stored_refused" : "stored"));
      const link = element("a", this.word("again"), "button go");
      link.href = `${location.pathname}#outlines`;
      link.addEventListener("click", (event) => { event.preventDefault(); location.hash = "outlines"; location.reload(); });
      this.part("stored-answer").replaceChildren(link);
      link.focus();
    } else {
      this.replaces = detail.item.key;
      this.say("kept", "square", this.word("taken_back"), kept_refusal(detail.item));
    }
  }

  // ---------------------------------------------------------------- not taken by the bench
  takes(item) { return item.kind === "damage" && item.job === this.dataset.job && Boolean(item.typed); }

  /* What was not taken while this page was not open: why, and the way back to it. */
  async refused_before() {
    const item = (await outbox.not_taken(this.dataset.job, "damage").catch(() => [])).find((one) => this.takes(one));
    if (!item || this.photo || this.digest) return;
    this.say("photo", "square", this.word("refused_before", { damage: item.body.damage }), kept_refusal(item));
    this.querySelector('[data-says="photo"]').append(quiet_button(this.word("take_back"), () => this.take_back(item)));
  }

  /* Photo, card, outline and words as they were; the next writing down takes this one's place. */
  async take_back(item) {
    this.turn += 1;
    const turn = this.turn;
    const { outline, card = {}, damage, stage } = item.body;
    this.photo = item.photo || null;
    this.digest = item.photo_sha256 || item.body.photo_sha256 || null;
    for (const input of this.querySelectorAll("[data-card-field]")) input.value = card[input.dataset.cardField] ?? "";
    this.keep_card();
    fill(this.form, item.typed);
    for (const [name, value] of [["damage", damage], ["stage", stage]]) {
      for (const one of this.form.querySelectorAll(`[name="${name}"]`)) one.checked = one.value === value;
    }
    this.part("kind").value = outline.kind;
    this.kind();
    if (outline.band_mm !== undefined) {
      const band = this.part("band").querySelector("input");
      band.value = outline.band_mm / Number(band.dataset.factor || 1);
    }
    this.part("edge").hidden = false;
    this.part("what").hidden = false;
    if (this.photo) this.editor.photo = this.photo;
    this.editor.value = outline;
    this.outline = outline;
    this.replaces = item.key;
    this.last = null;
    this.say("photo", "dash", "");
    this.say("kept", "square", this.word("taken_back"), kept_refusal(item));
    this.form.querySelector("button[type=submit]").focus();
    await this.look();
    if (turn === this.turn) this.part("what").hidden = false;
  }

  // ---------------------------------------------------------------- asking the bench
  /* The answer, or null when there is no network (or nobody is signed in any more: the outbox will say so). */
  async call(address, body, type = "application/json", ms = ASK_MS) {
    try {
      const answer = await fetch(address, {
        method: "POST", body, credentials: "same-origin", cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(ms),
        headers: { "Content-Type": type, "X-CSRFToken": said("csrf"), Accept: "text/html, application/json" },
      });
      return answer.type === "opaqueredirect" || answer.status >= 500 ? null : answer;
    } catch {
      return null;
    }
  }

  async piece(answer, place) {
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const piece = page.body.firstElementChild;
    place.replaceChildren(...(piece ? [document.importNode(piece, true)] : []));
    return place.firstElementChild;
  }
}

/* Why it was refused: the bench's own sentence, from problem details or from its page. */
async function sentence_of(answer) {
  const text = await answer.text();
  if ((answer.headers.get("Content-Type") || "").includes("json")) return JSON.parse(text).detail || "";
  const found = new DOMParser().parseFromString(text, "text/html").querySelector("[role=alert]");
  return found ? found.textContent.trim() : `HTTP ${answer.status}`;
}

customElements.define("survey-page", SurveyPage);

/* A picture that only shows is called by its file's own name. */
for (const input of document.querySelectorAll("input[type=file][data-names]")) {
  input.addEventListener("change", () => {
    const name = input.files.length ? input.files[0].name.slice(0, 100) : "";
    input.form.querySelector(`[name="${input.dataset.names}"]`).value = name;
  });
}
