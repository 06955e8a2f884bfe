// Sends each tap with its own id and time, shows the answer, and keeps the tap while no server takes it.
// Markup: <form data-tap> with the fields id, e and a; data-words on a form whose text must never be kept here.

import { drop, keep, waiting } from "./chair-queue.js";
import { chair, serverNow, show, showAhead } from "./chair-screen.js";
import { send, tapOf } from "./chair-send.js";
import { isUndo, said, showUndo, standing } from "./chair-undo.js";

const AGAIN_MS = 3000;
// A page this old may only hold an outdated key: loaded anew it gets another, and the kept taps go out with that.
const OLD_PAGE_MS = 60000;
const flying = new Set();
let sending = false;

async function sendKept() {
  const notes = [];
  for (const tap of await waiting()) {
    const answer = await send(tap);
    if (answer.is === "shut" && performance.now() > OLD_PAGE_MS) location.reload();
    if (answer.is !== "taken") break;
    await drop(tap.order);
    if (answer.refused) notes.push(answer.page);
    if (tap.session === chair()?.dataset.session) show(answer.page);
  }
  notes.forEach(addNotes);
}

async function catchUp() {
  if (sending) return;
  sending = true;
  try {
    await sendKept();
  } finally {
    sending = false;
  }
  await count();
  if ((await waiting()).length > 0) setTimeout(catchUp, AGAIN_MS);
}

// Of several taps sent late one may be refused: its sentence stays, whichever page came last.
function addNotes(page) {
  const said = new DOMParser().parseFromString(page, "text/html").querySelectorAll("#messages > *");
  const box = document.querySelector("#messages");
  for (const note of said) if (!box.textContent.includes(note.textContent.trim())) box.append(note);
}

async function count() {
  const kept = await waiting();
  const note = document.querySelector("[data-offline]");
  if (!note) return;
  note.hidden = kept.length === 0;
  note.querySelector("[data-waiting]").textContent = String(kept.length);
}

async function offline(tap) {
  const last = standing(await waiting(), tap.session).at(-1);
  // An undo of what the server does not know yet names the tap itself.
  if (isUndo(tap) && last && !isUndo(last)) tap.t = last.id;
  // What cannot be kept must not look as if it were.
  if (!(await keep(tap).then(() => true, () => false))) return needsNetwork();
  showAhead(tap.e, tap.at);
  await count();
  showUndo(await waiting(), tap.session);
  setTimeout(catchUp, AGAIN_MS);
  return undefined;
}

function needsNetwork() {
  document.querySelector("[data-needs-network]").hidden = false;
}

async function deliver(tap, words) {
  const behind = (await waiting()).length > 0;
  // Words are never kept here, so they wait in their form until everything else is sent.
  if (words !== undefined && behind) return needsNetwork();
  const answer = behind ? { is: "later" } : await send(tap, { words, v: chair().dataset.version });
  if (answer.is === "taken") return show(answer.page);
  if (words !== undefined) return needsNetwork();
  if (answer.is === "later") return offline(tap);
  // Signed out meanwhile: the page that asks to sign in comes, and the tap is sent after that.
  await keep(tap).catch(() => undefined);
  return location.reload();
}

async function onSubmit(event) {
  const form = event.target;
  if (!form.matches("[data-tap]")) return;
  event.preventDefault();
  const { tap, words } = tapOf(form, event.submitter, new Date(serverNow()).toISOString());
  const same = JSON.stringify([tap.e, tap.a, tap.s]);
  // On a slow network the screen still shows the step: a second press on it means the first.
  if (flying.has(same)) return;
  said(tap, event.submitter);
  flying.add(same);
  try {
    await deliver(tap, words);
  } finally {
    flying.delete(same);
  }
}

document.addEventListener("submit", onSubmit);
document.addEventListener("chair:shown", count);
addEventListener("online", catchUp);
catchUp();
