/* <outbox-panel>: one quiet line, "All sent" or what waits on this device; opened, it lists what waits, why, and what can be done.
   Its parts are the page's own <template id="outbox-panel-parts">. data-job-address: where a job is, with {job} in it.       */

import { said_kind } from "./deciding.js";
import { lines_of } from "./form-body.js";
import { outbox } from "./outbox.js";
import { counted, moment, said, word } from "./words.js";

const ORDER = { conflict: 0, refused: 1, sending: 2, waiting: 3 };
// kind → the page of the job where such an entry is made, and put right
const PAGE = {
  damage: "survey", "damage.outlined": "survey", "picture.taken": "survey", "solvent.used": "hazards", "vapour.read": "hazards",
  "permit.issued": "hazards", "hot_work.ended": "hazards", "air.read": "conditions", "surface.prepared": "conditions",
  "surface.checked": "conditions", "layer.fused": "buildup", "heat.planned": "heat", "heat.logged": "heat", "film.cooled": "thickness",
  "film.measured": "thickness", "gauge.checked": "instruments", "holiday.tested": "holiday", "repair.recalled": "history",
};
const SHAPE = { conflict: "square", refused: "square", sending: "half", waiting: "half" };

const photo_line = ({ name, size }) => `${name ? `${name}, ` : ""}${Math.max(1, Math.round(size / 1000))} kB`;

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
    this.values(part("values"), item);
    const held = item.state === "refused" || item.state === "conflict";
    const there = (this.dataset.jobAddress || "/jobs/{job}/").replace("{job}", encodeURIComponent(item.job));
    const form = this.form_of(item);
    part("correct").hidden = !(form && held);
    part("page").hidden = Boolean(form) || !held || !PAGE[item.kind];
    part("page").href = `${there}${PAGE[item.kind]}/`;
    part("there").hidden = item.state !== "conflict";
    part("there").href = `${there}history/#entry-${encodeURIComponent(item.id)}`;
    part("correct").addEventListener("click", () => {
      this.querySelector("[data-panel]").open = false;
      for (let fold = form.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
      form.scrollIntoView({ block: "center" });
      form.take_back(item);
    });
    part("discard").hidden = item.state === "sending";
    part("discard").addEventListener("click", () => this.sure(row, item));
    for (const one of row.querySelectorAll("button")) one.setAttribute("aria-label", `${one.textContent.trim()}: ${part("what").textContent}, ${item.job}, ${part("at").textContent}`);
    return row;
  }

  /* What it says: as it was typed, where a form said so; else what is sent. Texts of people, so never as markup. */
  values(list, item) {
    const lines = item.lines || lines_of(item.body);
    list.replaceChildren(...(item.photo ? [[word("photo"), photo_line(item.photo)], ...lines] : lines).flatMap(([name, value]) => ["dt", "dd"].map((tag, i) => {
      const one = document.createElement(tag);
      one.textContent = i ? value : name;
      return one;
    })));
    list.tabIndex = lines.length > 8 ? 0 : -1; // it scrolls, also by keyboard
  }

  /* The form on this page that such an entry is put right in, if there is one. */
  form_of(item) {
    return [...document.querySelectorAll("entry-form, heat-log, survey-page, reading-pad")].find((one) => one.takes && one.takes(item));
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
