// Sends each tap with its own id and time, shows the answer, and keeps the tap while no server takes it.
// Markup: <form data-tap> with the fields id, e and a; data-words on a form whose text must never be kept here.

import { drop, keep, waiting } from "./chair-queue.js";
import { chair, serverNow, show, showAhead } from "./chair-screen.js";

const AGAIN_MS = 3000;
let sending = false;
let lastKept = "";

// No network, or a server that cannot write just now: the tap is not recorded yet.
class Away extends Error {}

const newId = () => crypto.randomUUID?.() ?? "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (digit) =>
  (digit ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (digit / 4)))).toString(16));

async function post(tap, words) {
  const body = new URLSearchParams({ id: tap.id, e: tap.e, at: tap.at });
  for (const value of tap.a) body.append("a", value);
  if (tap.t) body.append("t", tap.t);
  if (words !== undefined) body.append("words", words);
  const token = document.querySelector("[name=csrfmiddlewaretoken]").value;
  const sent = fetch(tap.to, { method: "POST", body, headers: { "X-Tap": "1", "X-CSRFToken": token } });
  const response = await sent.catch(() => null);
  if (!response || response.status >= 500) throw new Away();
  return response;
}

async function answered(response) {
  // Signed out meanwhile: the page that asks to sign in comes back, and the taps stay kept.
  if (response.redirected) return location.reload();
  return show(await response.text());
}

async function catchUp() {
  if (sending) return;
  sending = true;
  try {
    for (const tap of await waiting()) {
      const response = await post(tap);
      if (response.redirected) break;
      await drop(tap.order);
      if (String(tap.session) === chair()?.dataset.session) await answered(response);
    }
    lastKept = "";
  } catch (error) {
    if (!(error instanceof Away)) throw error;
    setTimeout(catchUp, AGAIN_MS);
  } finally {
    sending = false;
    await count();
  }
}

async function count() {
  const kept = await waiting();
  const note = document.querySelector("[data-offline]");
  if (!note) return;
  note.hidden = kept.length === 0;
  note.querySelector("[data-waiting]").textContent = String(kept.length);
}

async function offline(tap) {
  // An undo of what the server does not know yet names the tap itself.
  if (tap.e.startsWith("39") && lastKept) tap.t = lastKept;
  await keep(tap);
  lastKept = tap.t ? "" : tap.id;
  showAhead(tap.e, tap.at);
  await count();
  setTimeout(catchUp, AGAIN_MS);
}

async function onSubmit(event) {
  const form = event.target;
  if (!form.matches("[data-tap]")) return;
  event.preventDefault();
  const data = new FormData(form);
  const at = new Date(serverNow()).toISOString();
  const tap = { session: chair().dataset.session, to: form.action, id: newId(), e: data.get("e"), a: data.getAll("a"), at };
  const words = data.get("words") ?? undefined;
  try {
    // Behind those that wait: the server takes them in the order in which they happened.
    if ((await waiting()).length > 0) throw new Away();
    await answered(await post(tap, words));
  } catch (error) {
    if (!(error instanceof Away)) throw error;
    if ("words" in form.dataset) document.querySelector("[data-needs-network]").hidden = false;
    else await offline(tap);
  }
}

document.addEventListener("submit", onSubmit);
document.addEventListener("chair:shown", count);
addEventListener("online", catchUp);
catchUp();
