// Does the bench still show the ledger that this device has seen? The device keeps size and root of the newest checkpoint
// and asks for the consistency proof (RFC 6962 §2.1.2, checked as RFC 9162 §2.1.4.2 says). Where it fails, the page says so
// and recording stops on this device until a manager has looked.
//
//   <ledger-witness data-url="/api/v1/checkpoint" data-other="words"><p role="alert" hidden></p></ledger-witness>

const EVERY_MS = 5 * 60 * 1000;

const bytes = (hex) => Uint8Array.from(hex.match(/../g) ?? [], (pair) => parseInt(pair, 16));
const hex = (raw) => Array.from(raw, (one) => one.toString(16).padStart(2, "0")).join("");
const node = async (left, right) => {
  const both = new Uint8Array(1 + left.length + right.length);
  both[0] = 1;
  both.set(left, 1);
  both.set(right, 1 + left.length);
  return new Uint8Array(await crypto.subtle.digest("SHA-256", both));
};

/** Whether `root` over `size` leaves continues `oldRoot` over `old`. Sizes are whole numbers, roots and proof hex. */
export async function continues(old, oldRoot, size, root, proof) {
  if (old === 0) return true;
  if (old > size) return false;
  if (old === size) return proof.length === 0 && oldRoot === root;
  const path = proof.map(bytes);
  if (path.length === 0) return false;
  if (Number.isInteger(Math.log2(old))) path.unshift(bytes(oldRoot));
  let fn = BigInt(old - 1), sn = BigInt(size - 1);
  while (fn & 1n) { fn >>= 1n; sn >>= 1n; }
  let fr = path[0], sr = path[0];
  for (const one of path.slice(1)) {
    if (sn === 0n) return false;
    if ((fn & 1n) || fn === sn) {
      fr = await node(one, fr);
      sr = await node(one, sr);
      if (!(fn & 1n)) while (fn !== 0n && !(fn & 1n)) { fn >>= 1n; sn >>= 1n; }
    } else {
      sr = await node(sr, one);
    }
    fn >>= 1n;
    sn >>= 1n;
  }
  return sn === 0n && hex(fr) === oldRoot && hex(sr) === root;
}

class LedgerWitness extends HTMLElement {
  connectedCallback() {
    const shop = document.querySelector('meta[name="shop"]')?.content;
    if (!shop || !globalThis.crypto?.subtle) return;
    this.key = `ledger-seen:${shop}`;
    const kept = this.kept();
    if (kept.stopped) this.stop(kept);
    else if (Date.now() - (kept.asked ?? 0) > EVERY_MS) this.look(kept);
  }

  kept() {
    try { return JSON.parse(localStorage.getItem(this.key)) ?? { size: 0, root: "" }; } catch { return { size: 0, root: "" }; }
  }

  async look(kept) {
    let answer;
    try { answer = await fetch(`${this.dataset.url}?since=${kept.size}`, { headers: { Accept: "application/json" } }); } catch { return; }
    if (answer.status === 422) return this.stop(kept);
    if (!answer.ok) return;
    const now = await answer.json();
    if (!(await continues(kept.size, kept.root, now.size, now.root, now.proof))) return this.stop(kept);
    localStorage.setItem(this.key, JSON.stringify({ size: now.size, root: now.root, asked: Date.now() }));
  }

  stop(kept) {
    localStorage.setItem(this.key, JSON.stringify({ ...kept, stopped: true }));
    const line = this.querySelector("p");
    line.textContent = this.dataset.other.replace("%s", String(kept.size));
    line.hidden = false;
    for (const form of document.querySelectorAll("entry-form button[type=submit], deciding-form button[type=submit]")) form.disabled = true;
    document.dispatchEvent(new CustomEvent("ledger:other"));
  }
}
customElements.define("ledger-witness", LedgerWitness);
