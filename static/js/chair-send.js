// One tap on its way to the server, and what its answer means: taken (also with a refusal), come again later, or
// not let in, because somebody was signed out or the page is too old.

import { chair } from "./chair-screen.js";

const PATIENCE_MS = 8000;
const TAKEN = [200, 409, 422];
const LATER = [408, 425, 429];

// `now`: what only a tap sent at once may say, its words and the state its screen had seen.
function body(tap, now) {
  const fields = new URLSearchParams({ id: tap.id, e: tap.e, at: tap.at });
  for (const value of tap.a) fields.append("a", value);
  for (const value of tap.s ?? []) fields.append("s", value);
  if (tap.t) fields.append("t", tap.t);
  for (const [name, value] of Object.entries(now)) if (value !== undefined) fields.append(name, value);
  return fields;
}

function meaning(response) {
  if (response.redirected) return "shut";
  if (TAKEN.includes(response.status)) return "taken";
  return response.status >= 500 || LATER.includes(response.status) ? "later" : "shut";
}

export async function send(tap, now = {}) {
  const token = document.querySelector("[name=csrfmiddlewaretoken]").value;
  const headers = { "X-Tap": "1", "X-CSRFToken": token };
  try {
    const options = { method: "POST", body: body(tap, now), headers, signal: AbortSignal.timeout(PATIENCE_MS) };
    const response = await fetch(tap.to, options);
    return { is: meaning(response), refused: response.status !== 200, page: await response.text() };
  } catch (error) {
    // No network, or one that does not answer: the same tap may be sent again, the server counts it once.
    if (!(error instanceof TypeError || error instanceof DOMException)) throw error;
    return { is: "later" };
  }
}

const newId = () => crypto.randomUUID?.() ?? "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (digit) =>
  (digit ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (digit / 4)))).toString(16));

export function tapOf(form, button, at) {
  const data = new FormData(form, button);
  const tap = { session: chair().dataset.session, to: form.action, id: newId(), e: data.get("e"), a: data.getAll("a"), at };
  if (data.has("s")) tap.s = data.getAll("s");
  return { tap, words: data.get("words") ?? undefined };
}
