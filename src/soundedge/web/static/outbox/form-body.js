/* How does a filled form become the body of an entry?

   name="air_c"                 the key; "meter.id" nests
   data-type                    text | texts | number | numbers | flag | choice | choices | json | time | at
   data-factor, data-offset     house value = factor · typed + offset
   data-when="key=value"        asked only while that choice is made
   data-list="readings"         a group of rows: <template data-row>…</template>, <button data-add>, in each row <button data-remove>;
                                a field named "." makes each row the plain value
   Empty = the key is left out. Whether a value is a possible one is the bench's rule, not this page's.                 */

import { said } from "./words.js";

/* A number as typed, with comma or point; null when it is none. At most 15 digits: so many a number of the page holds exactly. */
export function number_of(text) {
  const plain = text.replace(/[\s\u00a0\u2009\u202f']/g, "").replace(/^[\u2212\u2013]/, "-");
  if (said("units") === "us" && /^[+-]?\d{1,3}(,\d{3})+$/.test(plain)) return null; // one thousand, or one? Not guessed.
  if (!/^[+-]?(\d+([.,]\d*)?|[.,]\d+)$/.test(plain) || plain.replace(/\D/g, "").replace(/^0+/, "").length > 15) return null;
  const value = Number(plain.replace(",", "."));
  return value === 0 ? 0 : value;
}

/* What is typed in the reader's units, in the house's. Six digits are kept where a conversion was made, and never fewer than
   the whole unit: 68.5 °F is 20.2778 °C. Without a conversion the number stays as it was typed. */
export function in_house_units(value, factor = 1, offset = 0) {
  if (factor === 1 && offset === 0) return value;
  const exact = factor * value + offset;
  const digits = Math.max(6, Math.ceil(Math.log10(Math.abs(exact) + 1)));
  const kept = Number(exact.toPrecision(Math.min(digits, 15)));
  return Math.abs(kept) < 1e-9 ? 0 : kept;
}

/* {body, at, photo, photo_key, faults: [{element, word}]} */
export function body_of(form) {
  const found = { body: {}, at: null, photo: null, photo_key: null, faults: [] };
  gather(form, found.body, found, form);
  return found;
}

const own_list = (element, within) => {
  const list = element.parentElement.closest("[data-list]");
  return list && list !== within && within.contains(list) ? list : null;
};

function gather(container, body, found, form) {
  const list_of = container.closest("[data-list]");
  for (const element of container.querySelectorAll("input[name], select[name], textarea[name]")) {
    const list = element.closest("[data-list]");
    if (list !== list_of && list && container.contains(list)) continue; // it belongs to a row of its own
    if (element.matches(":disabled") || !wanted(element, form)) continue;
    const value = value_of(element, found, form);
    if (value === undefined) continue;
    if (kind_of(element) === "at") found.at = value;
    else if (kind_of(element) === "choices") (get(body, element.name) || set(body, element.name, [])).push(value);
    else if (kind_of(element) === "photo") { found.photo = value; found.photo_key = element.name; }
    else set(body, element.name, value);
  }
  for (const list of container.querySelectorAll("[data-list]")) {
    if (own_list(list, container) && own_list(list, container) !== list_of) continue;
    const rows = [];
    for (const row of list.querySelectorAll("[data-row]")) {
      if (row.closest("[data-list]") !== list || row.tagName === "TEMPLATE") continue;
      const value = {};
      gather(row, value, found, form);
      if ("." in value) rows.push(value["."]);
      else if (Object.keys(value).length) rows.push(value);
    }
    if (rows.length) set(body, list.dataset.list, rows);
  }
}

/* data-when="decision=repair_as_instructed": only asked, and only sent, while that is chosen. */
function wanted(element, form) {
  const [name, value] = (element.dataset.when || "").split("=");
  return !value || [...form.elements].some((one) => one.name === name && one.checked && one.value === value);
}

function kind_of(element) {
  if (element.dataset.type) return element.dataset.type;
  return { checkbox: "flag", "datetime-local": "time", radio: "choice", file: "photo" }[element.type] || "text";
}

function value_of(element, found, form) {
  const kind = kind_of(element);
  const fault = (word) => { found.faults.push({ element, word }); return undefined; };
  if (kind === "flag") return element.required && !element.checked ? fault("required") : element.checked;
  if (element.type === "radio") {
    const same = [...form.querySelectorAll(`input[type=radio][name="${CSS.escape(element.name)}"]`)];
    if (element === same[0] && element.required && !same.some((one) => one.checked)) return fault("required");
  }
  if ((element.type === "radio" || kind === "choices") && !element.checked) return undefined;
  if (kind === "photo") return element.files.length ? element.files[0] : element.required && !element.dataset.held ? fault("required") : undefined;
  const text = element.value.trim();
  if (!text) return element.required ? fault("required") : element.validity.badInput ? fault("not_a_number") : undefined;
  if (kind === "number" || kind === "numbers") {
    const typed = (kind === "numbers" ? text.split(/[\s;]+/) : [text]).map(number_of);
    if (typed.includes(null)) return fault("not_a_number");
    const { factor, offset } = element.dataset;
    const values = typed.map((one) => in_house_units(one, Number(factor || 1), Number(offset || 0)));
    return kind === "numbers" ? values : values[0];
  }
  if (kind === "time" || kind === "at") {
    const at = new Date(element.value); // a time without a zone is the time of this place
    return Number.isNaN(at.getTime()) ? fault("not_a_time") : at.toISOString().replace(/\.\d+Z$/, "Z");
  }
  if (kind === "json") {
    try { return JSON.parse(text); } catch { return fault("not_readable"); }
  }
  return kind === "texts" ? text.split(/\s*;\s*/).filter(Boolean) : text;
}

function get(body, path) {
  return path === "." ? body["."] : path.split(".").reduce((at, name) => (at === undefined ? at : at[name]), body);
}

function set(body, path, value) {
  if (path === ".") return (body["."] = value);
  const names = path.split(".");
  let at = body;
  for (const name of names.slice(0, -1)) at = at[name] = at[name] || {};
  return (at[names.at(-1)] = value);
}

// ------------------------------------------------------------------ rows

/* Buttons that add and take away rows, and the rows a group starts with (data-start, else one). */
export function rows_in(form) {
  for (const list of form.querySelectorAll("[data-list]")) start(list);
  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-add], [data-remove]");
    const list = button && button.closest("[data-list]");
    if (!list) return;
    event.preventDefault();
    if (button.hasAttribute("data-add")) {
      const row = add_row(list);
      const first = row.querySelector("input, select, textarea");
      if (first) first.focus();
    } else {
      button.closest("[data-row]").remove();
      const add = list.querySelector("[data-add]");
      if (add) add.focus();
    }
  });
}

const rows_of = (list) => [...list.querySelectorAll("[data-row]")].filter((row) => row.tagName !== "TEMPLATE" && row.closest("[data-list]") === list);
const pattern_of = (list) => [...list.querySelectorAll("template[data-row]")].find((one) => one.closest("[data-list]") === list);

function start(list) {
  const pattern = pattern_of(list);
  if (pattern) resize(list, Number(list.dataset.start || 1));
}

let made = 0;

function add_row(list) {
  const row = pattern_of(list).content.firstElementChild.cloneNode(true);
  row.setAttribute("data-row", "");
  made += 1;
  const renamed = (id) => `${id}-${made}`;
  for (const one of row.querySelectorAll("[id]")) one.id = renamed(one.id);
  for (const one of row.querySelectorAll("label[for]")) one.htmlFor = renamed(one.htmlFor);
  for (const one of row.querySelectorAll("[aria-labelledby]")) one.setAttribute("aria-labelledby", renamed(one.getAttribute("aria-labelledby")));
  const last = rows_of(list).at(-1);
  if (last) last.after(row); else pattern_of(list).after(row);
  for (const inner of row.querySelectorAll("[data-list]")) start(inner);
  return row;
}

function resize(list, n) {
  const rows = rows_of(list);
  if (!pattern_of(list)) return;
  rows.slice(n).forEach((row) => row.remove());
  for (let i = rows.length; i < n; i += 1) add_row(list);
}

// ------------------------------------------------------------------ as it was filled

const fields = (form) => [...form.querySelectorAll("input[name], select[name], textarea[name]")].filter((one) => one.type !== "file");

/* How the form is filled, so that `fill` can fill it so again. Never a password. */
export function typed_in(form) {
  return {
    rows: [...form.querySelectorAll("[data-list]")].map((list) => rows_of(list).length),
    names: fields(form).map((one) => one.name),
    values: fields(form).map((one) => (one.type === "password" ? "" : one.type === "checkbox" || one.type === "radio" ? one.checked : one.value)),
  };
}

/* Can this form be filled so? One kind may be asked in more than one form, a circle here and an ellipse there. */
export function suits(form, typed) {
  const here = new Set(fields(form).map((one) => one.name));
  return !typed.names || (typed.names.length > 0 && typed.names.every((name, i) => here.has(name) || in_a_row(form, name) || typed.values[i] === "" || typed.values[i] === false));
}

const in_a_row = (form, name) => [...form.querySelectorAll("template[data-row]")].some((one) => one.content.querySelector(`[name="${CSS.escape(name)}"]`));

export function fill(form, typed) {
  for (let i = 0; i < typed.rows.length; i += 1) {
    const list = form.querySelectorAll("[data-list]")[i];
    if (list) resize(list, typed.rows[i]);
  }
  const at = typed.names ? [...typed.names] : null; // the same fields may stand elsewhere in another form of this kind
  fields(form).forEach((one, i) => {
    const place = at ? at.indexOf(one.name) : i;
    if (at && place >= 0) at[place] = null;
    const value = typed.values[place];
    if (typeof value === "boolean") one.checked = value;
    else if (typeof value === "string") one.value = value;
  });
}

/* The same for people: [[what the field is called, what stands in it]], with the unit in which it was typed. */
export function lines_in(form) {
  return fields_and_photos(form).filter((one) => !one.disabled && one.type !== "hidden" && one.type !== "password").map((one) => {
    if (one.type === "radio" || one.dataset.type === "choices") return one.checked ? [legend_of(one), label_of(one, false)] : null;
    if (one.type === "checkbox") return [label_of(one, false), one.checked ? "\u2713" : "\u2013"];
    const text = one.type === "file" ? [...one.files].map((file) => file.name).join(", ")
      : one.tagName === "SELECT" ? (one.value ? one.selectedOptions[0].textContent : "") : one.value;
    return text.trim() ? [label_of(one, false), text.trim().replace("T", one.type === "datetime-local" ? " " : "T")] : null;
  }).filter(Boolean);
}

const fields_and_photos = (form) => [...form.querySelectorAll("input[name], select[name], textarea[name]")];
const legend_of = (one) => (one.closest("fieldset")?.querySelector("legend")?.textContent || one.name).trim().replace(/\s+/g, " ");

/* What is sent, for people, where no form said it: its keys as words, one line a value, a list of plain values in one line. */
export function lines_of(body, before = "") {
  return Object.entries(body || {}).flatMap(([key, value]) => {
    const name = `${before} ${/^\d+$/.test(key) ? Number(key) + 1 : key.replace(/[._]/g, " ")}`.trim();
    const list = Array.isArray(value) && value.every((one) => one === null || typeof one !== "object");
    if (value && typeof value === "object" && !list) return lines_of(value, name);
    return [[name, list ? value.join(" · ") : value === true ? "\u2713" : value === false ? "\u2013" : String(value)]];
  });
}

/* Ready for the next entry: empty but for what stays (data-keep). */
export function clear(form) {
  const stays = fields(form).filter((one) => one.hasAttribute("data-keep")).map((one) => [one, one.checked, one.value]);
  form.reset();
  for (const one of form.querySelectorAll("input[type=file]")) delete one.dataset.held;
  for (const list of form.querySelectorAll("[data-list]")) {
    if (list.isConnected && !list.hasAttribute("data-keep")) { resize(list, 0); start(list); }
  }
  for (const [one, checked, value] of stays) {
    if (one.type === "checkbox" || one.type === "radio") one.checked = checked;
    else if (one.type !== "hidden") one.value = value;
  }
}

// ------------------------------------------------------------------ what is wrong

/* "Air temperature: that is not a number." – said in the form's own output, the field marked and shown. */
export function label_of(element, short = true) {
  const label = element.labels && element.labels[0];
  const legend = short && element.type === "radio" && element.closest("fieldset")?.querySelector("legend");
  const from = legend || label;
  if (!from) return element.getAttribute("aria-label") || element.name;
  const copy = from.cloneNode(true);
  copy.querySelectorAll(short ? ".unit, .may, input, select, textarea" : ".may, input, select, textarea").forEach((one) => one.remove());
  return copy.textContent.trim().replace(/\s+/g, " ");
}

export function mark(form, faults, output) {
  for (const one of form.querySelectorAll("[aria-invalid]")) {
    one.removeAttribute("aria-invalid");
    one.removeAttribute("aria-describedby");
  }
  for (const { element } of faults) {
    element.setAttribute("aria-invalid", "true");
    if (output && output.id) element.setAttribute("aria-describedby", output.id);
  }
  if (faults.length) {
    const closed = faults[0].element.closest("details:not([open])");
    if (closed) closed.open = true;
    faults[0].element.focus();
  }
}
