/* Small elements that several pages make: words of people never become markup.

       element("p", "3 readings", "may")      <p class="may">3 readings</p>
       english("It is wet.", "p", "said")     the same for a sentence of the bench as it stands
       kept_refusal(item, "p", "said")        why an entry was not taken, in the language it was said in then
       shape("disc")                          the sign of a state, for the eye alone (basis/signs.py draws them, once a page)
       paint(one, "disc")                     a sign that stands there becomes another
       quiet_button("Take back", does)        a button that is not the next step                                              */

export function element(tag, words, sort = "") {
  const one = document.createElement(tag);
  one.textContent = words;
  if (sort) one.className = sort;
  return one;
}

export function english(words, tag = "span", sort = "") {
  const one = element(tag, words, sort);
  one.lang = "en";
  return one;
}

export function kept_refusal({ answer }, tag = "span", sort = "") {
  const one = element(tag, (answer && answer.sentence) || "", sort);
  one.lang = (answer && answer.lang) || "en";
  return one;
}

const SVG = "http://www.w3.org/2000/svg";

export function shape(name) {
  const one = document.createElementNS(SVG, "svg");
  one.setAttribute("viewBox", "0 0 24 24");
  one.setAttribute("aria-hidden", "true");
  one.append(document.createElementNS(SVG, "use"));
  return paint(one, name);
}

export function paint(one, name) {
  one.setAttribute("class", `shape shape-${name}`);
  one.querySelector("use").setAttribute("href", `#sign-${name}`);
  return one;
}

export function quiet_button(words, does) {
  const one = element("button", words, "quiet");
  one.type = "button";
  one.addEventListener("click", does);
  return one;
}
