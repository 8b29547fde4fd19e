/* <outbox-panel>: one quiet line, "All sent" or what waits on this device; opened, it lists what waits, why, and what can be done.
   Its parts are the page's own <template id="outbox-panel-parts">. data-job-address: where a job is, with {job} in it.       */

import { said_kind } from "./deciding.js";
import { outbox } from "./outbox.js";
import { counted, moment, said, word } from "./words.js";

const ORDER = { conflict: 0, refused: 1, sending: 2, waiting: 3 };
const SHAPE = { conflict: "square", refused: "square", sending: "half", waiting: "half" };

class OutboxPanel extends HTMLElement {
  connectedCallback() {
    if (this.line) return;
    this.append(document.getElementById("outbox-panel-parts").content.cloneNode(true));
    this.line = this.querySelector("[data-line]");
    this.shape = this.querySelector("[data-shape]");
    this.list = this.querySelector("[data-items]");
    this.whys = this.querySelector("[data-why]");
    this.others = this.querySelector("[data-others]");
    this.clock = this.querySelector("[data-clock]");
    this.querySelector("[data-send]").addEventListener("click", () => outbox.flush());
    this.querySelector("[data-panel]").addEventListener("toggle", () => this.draw());
    this.trouble = outbox.trouble();
    const later = () => { clearTimeout(this.soon); this.soon = setTimeout(() => this.draw(), 60); };
    for (const name of ["outbox:counted", "outbox:sending", "outbox:refused", "outbox:conflict", "outbox:stored"]) document.addEventListener(name, later);
    document.addEventListener("outbox:trouble", ({ detail }) => { this.trouble = detail; later(); });
    document.addEventListener("outbox:clock", ({ detail }) => {
      const minutes = Math.max(1, Math.round(Math.abs(detail.seconds) / 60));
      this.clock.textContent = counted(detail.seconds < 0 ? "clock_slow" : "clock_fast", minutes);
      this.clock.hidden = false;
    });
    this.draw();
  }

  async draw() {
    let n;
    let items;
    try {
      [n, items] = [await outbox.count(), await outbox.all()];
    } catch (fault) {
      this.say("square", word("not_kept", { why: (fault && fault.message) || "" }));
      return;
    }
    const held = n.refused + n.conflict;
    if (held) this.say("square", [counted("refused", held), n.waiting ? counted("wait", n.waiting) : ""].filter(Boolean).join("; "));
    else if (n.waiting) this.say("half", counted("wait", n.waiting));
    else this.say("circle", word("all_sent"));
    this.querySelector("[data-send]").hidden = !n.waiting;
    const why = n.waiting && this.trouble.why ? word(`trouble_${this.trouble.why}`) : "";
    this.whys.replaceChildren(why);
    if (why && this.trouble.sentence) {
      const theirs = document.createElement("span");
      theirs.lang = "en";
      theirs.textContent = ` ${this.trouble.sentence}`;
      this.whys.append(theirs);
    }
    this.whys.hidden = !why;
    this.others.replaceChildren(...n.others.map((one) => {
      const line = document.createElement("p");
      line.textContent = one.shop === said("shop") || !said("shop") ? counted("other", one.n, { name: one.name }) : counted("other_shop", one.n);
      return line;
    }));
    this.querySelector("[data-nothing]").hidden = Boolean(n.total || n.others.length);
    if (!this.querySelector("[data-panel]").open || this.list.querySelector("[data-sure]")) return; // not while he is asked
    const own = items.filter((item) => item.person === said("person") && item.shop === said("shop"));
    own.sort((a, b) => ORDER[a.state] - ORDER[b.state] || a.seq - b.seq);
    const focused = this.list.contains(document.activeElement) ? document.activeElement.closest("li")?.dataset.key : null;
    this.list.replaceChildren(...own.map((item) => this.row(item)));
    this.list.hidden = !own.length;
    if (focused) (this.list.querySelector(`[data-key="${CSS.escape(focused)}"] button`) || this.querySelector("summary")).focus();
  }

  row(item) {
    const row = document.getElementById("outbox-panel-row").content.firstElementChild.cloneNode(true);
    const part = (name) => row.querySelector(`[data-${name}]`);
    row.dataset.key = item.key;
    part("what").textContent = part("what").dataset[`kind_${item.kind.replace(/\W/g, "_")}`] || said_kind(item.kind);
    part("job").textContent = item.job;
    part("job").href = (this.dataset.jobAddress || "/jobs/{job}/").replace("{job}", encodeURIComponent(item.job));
    part("at").textContent = moment(item.at);
    part("at").dateTime = item.at;
    part("state").textContent = word(`state_${item.state}`);
    part("state-shape").classList.add(`shape-${SHAPE[item.state]}`);
    part("sentence").textContent = (item.answer && item.answer.sentence) || "";
    part("sentence").hidden = !part("sentence").textContent;
    const form = this.form_of(item);
    part("correct").hidden = !(form && item.typed && (item.state === "refused" || item.state === "conflict"));
    part("correct").addEventListener("click", () => {
      this.querySelector("[data-panel]").open = false;
      form.scrollIntoView({ block: "center" });
      form.take_back(item);
    });
    part("discard").hidden = item.state === "sending";
    part("discard").addEventListener("click", () => this.sure(row, item));
    for (const one of row.querySelectorAll("button")) one.setAttribute("aria-label", `${one.textContent.trim()}: ${part("what").textContent}, ${item.job}, ${part("at").textContent}`);
    return row;
  }

  /* The form on this page that wrote such an entry, if there is one. */
  form_of(item) {
    return [...document.querySelectorAll("entry-form")].find((one) => one.getAttribute("kind") === item.kind && one.getAttribute("job") === item.job);
  }

  sure(row, item) {
    const asks = document.getElementById("outbox-panel-sure").content.firstElementChild.cloneNode(true);
    asks.setAttribute("data-sure", "");
    asks.querySelector("[data-yes]").addEventListener("click", async () => {
      await outbox.discard(item.key);
      asks.remove();
      await this.draw();
      this.querySelector("summary").focus();
    });
    asks.querySelector("[data-no]").addEventListener("click", async () => {
      asks.remove();
      await this.draw();
      this.list.querySelector(`[data-key="${CSS.escape(item.key)}"] [data-discard]`)?.focus();
    });
    row.append(asks);
    asks.querySelector("[data-no]").focus();
  }

  say(shape, text) {
    this.shape.className = `shape shape-${shape}`;
    if (this.line.textContent !== text) this.line.textContent = text; // a screen reader speaks only when it changed
  }
}

customElements.define("outbox-panel", OutboxPanel);
outbox.flush();
