/* What does the browser say? Only what the page's own template says, in the reader's language.

   <template id="outbox-words"><span data-word="stored">Stored as number {no}.</span>…</template>
   word("stored", {no: 41})   →   "Stored as number 41."                                                              */

export function word(name, values = {}) {
  const words = document.getElementById("outbox-words");
  const found = words && words.content.querySelector(`[data-word="${name}"]`);
  const text = found ? found.textContent.trim().replace(/\s+/g, " ") : name.replaceAll("_", " ");
  return text.replace(/\{(\w+)\}/g, (whole, key) => (key in values ? String(values[key]) : whole));
}

/* One or many: counted("wait", 3) takes the word "wait_many", counted("wait", 1) the word "wait_one". */
export function counted(name, n, values = {}) {
  return word(`${name}_${n === 1 ? "one" : "many"}`, { n, ...values });
}

let kinds; // as the page's template has them: {"air.read": ["Air and steel read", "conditions"], …}

/* What a kind of entry is called, and the page of a job where it is made. A kind that this page does not know keeps its own words. */
export function kind_named(kind) {
  if (!kinds) {
    const text = word("kinds");
    kinds = text.startsWith("{") ? JSON.parse(text) : {};
  }
  const [label, page] = kinds[kind] || [String(kind || "").replace(/[._]/g, " "), ""];
  return { label, page };
}

/* A moment as people of this page's language write it. */
export function moment(text) {
  const at = new Date(text);
  if (Number.isNaN(at.getTime())) return String(text);
  return at.toLocaleString(document.documentElement.lang || undefined, { dateStyle: "medium", timeStyle: "short", hourCycle: "h23" });
}

/* What the page says of itself in its head: person, shop, device, units, csrf, build. */
export function said(name) {
  const found = document.querySelector(`meta[name="${name}"]`);
  return found ? found.content : "";
}
