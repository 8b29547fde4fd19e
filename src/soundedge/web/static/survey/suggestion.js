// Asks the bench for the edge it would suggest: its answer, or null without network, too late, or when it has none.

export async function askEdge(editor, asked, signal) {
  const headers = { "Content-Type": "application/json", Accept: "application/json" };
  headers[editor.getAttribute("csrf-header") || "X-CSRFToken"] = editor.getAttribute("csrf-token") || "";
  try {
    const got = await fetch(editor.getAttribute("snap-url"), {
      method: "POST", credentials: "same-origin", headers, signal, body: JSON.stringify(asked),
    });
    return got.ok ? await got.json() : null;
  } catch {
    return null;
  }
}
