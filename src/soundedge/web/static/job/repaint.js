/* repaint(): what of this page is said by the bench (data-repaint="name") is asked for again and put in place of the old. Forms, and
   what somebody is typing or signing, are left as they are: a signature covers what was seen, so its form keeps the old head.  */

const SOON_MS = 400; // several entries are often taken at once
let soon;
let under_way = false;

export function repaint() {
  clearTimeout(soon);
  soon = setTimeout(now, SOON_MS);
}

async function now() {
  if (under_way) return repaint();
  under_way = true;
  try {
    const answer = await fetch(location.href, { credentials: "same-origin", cache: "no-store", headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) return;
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const old of document.querySelectorAll("[data-repaint]")) {
      const made = fresh.querySelector(`[data-repaint="${old.dataset.repaint}"]`);
      if (!made || old.contains(document.activeElement)) continue;
      made.dataset.fresh = "1";
      for (const [n, fold] of old.querySelectorAll("details").entries()) {
        const same = made.querySelectorAll("details")[n];
        if (same) same.open = fold.open;
      }
      const put = document.importNode(made, true);
      const [was, is] = [old, put].map((one) => one.querySelector("ol"));
      const left = was?.scrollLeft;
      old.replaceWith(put);
      if (left && is) is.scrollLeft = left;
    }
  } catch { /* no network: the page stays, and says how old it is */ } finally { under_way = false; }
}
