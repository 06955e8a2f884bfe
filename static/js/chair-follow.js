// Follows what another screen records and what the clocks bring, within three seconds: asks for the page again, and
// shows it if it changed. Under somebody's writing nothing is replaced: then a notice says what has come.
// Marked as the page's own wish, so that following never keeps anybody signed in; 304 while nothing changed.
// Markup: <section data-news hidden><div data-news-words><p data-news-other hidden><button data-news-show>

import { waiting } from "./chair-queue.js";
import { chair, serverNow, setClock, show } from "./chair-screen.js";

const EVERY_MS = 2000;
const AGAIN_MS = 250;
const PATIENCE_MS = 8000;
let timer = 0;
let pressed = false;
// The version that has come while somebody was writing.
let held = "";

const busy = () => document.activeElement?.closest("details[open], textarea, select");
const looks = (version) => version.split(".")[0];

function quiet() {
  held = "";
  const news = document.querySelector("[data-news]");
  if (news) news.hidden = true;
}

function tell(text) {
  const coming = new DOMParser().parseFromString(text, "text/html");
  held = coming.querySelector("[data-chair]").dataset.tag;
  // As it was: what had come was taken back meanwhile.
  if (looks(held) === looks(chair().dataset.tag)) return quiet();
  const news = document.querySelector("[data-news]");
  const against = [...coming.querySelectorAll("[data-chair] > .chair-warning:not([hidden]), .chair-against")];
  news.querySelector("[data-news-words]").replaceChildren(...against);
  news.querySelector("[data-news-other]").hidden = against.length > 0;
  news.hidden = false;
  return undefined;
}

// Nothing new, by a version of its own: until then nobody has to look closer.
function unchanged(root, known, version) {
  if (!version) return;
  if (known === held) held = version;
  else root.dataset.tag = version;
  if (!busy()) quiet();
}

async function take(root, known, response) {
  setClock(response.headers.get("X-Now"));
  if (response.status === 304) return unchanged(root, known, response.headers.get("ETag")?.match(/"(.*)"/)?.[1]);
  if (response.status !== 200) return undefined;
  // A network that goes away between the first word of the page and its last.
  const text = await response.text().catch(() => null);
  if (text === null || root !== chair() || pressed) return undefined;
  return busy() ? tell(text) : show(text);
}

async function look() {
  const root = chair();
  // Not under a finger. And what is kept here is not on the server yet: its page would be behind this one.
  if (root && !pressed && (await waiting()).length === 0) {
    const known = (busy() && held) || root.dataset.tag;
    const headers = { "X-Background": "1", "If-None-Match": `"${known}"` };
    const signal = AbortSignal.timeout(PATIENCE_MS);
    const response = await fetch(root.dataset.screen, { headers, signal }).catch(() => null);
    // Closed at another screen while this one is locked, or signed out: the page says so itself.
    if (response?.redirected || [403, 404].includes(response?.status)) return location.reload();
    if (response) await take(root, known, response);
  }
  return plan();
}

function plan() {
  clearTimeout(timer);
  const due = Date.parse(chair()?.dataset.nextAt ?? "") - serverNow();
  timer = setTimeout(look, pressed ? AGAIN_MS : due > 0 ? Math.min(due, EVERY_MS) : EVERY_MS);
}

document.addEventListener("pointerdown", () => (pressed = true), { capture: true });
for (const kind of ["pointerup", "pointercancel"]) {
  document.addEventListener(kind, () => (pressed = false), { capture: true });
}
// A release that never came here, as after a menu of the browser's own.
document.addEventListener("pointermove", (event) => (pressed &&= event.buttons !== 0), { passive: true });
document.addEventListener("click", (event) => {
  if (!event.target.closest("[data-news-show]")) return;
  document.activeElement?.blur();
  look();
});
// Back by the browser's own button: the page is as old as when it was left.
addEventListener("pageshow", (event) => event.persisted && location.reload());
document.addEventListener("chair:shown", () => {
  held = "";
  plan();
});
plan();
