// What Undo means while taps wait here: the last of them that still stands, else what the server offered, else nothing.

const words = new Map();
let offered = null;

export function standing(kept, session) {
  // A withdrawal is no entry of the log: nothing takes it back but a new signature.
  const taps = kept.filter((each) => each.session === session && each.e);
  const gone = new Set(taps.map((each) => each.t));
  return taps.filter((each) => !each.t && !gone.has(each.id));
}

export const isUndo = (tap) => tap.e.startsWith("39:");
// The words stay in the page: the browser's own store never holds them.
export const said = (tap, button) => words.set(tap.id, button?.textContent.trim() ?? "");

export function showUndo(kept, session) {
  const form = document.querySelector("[data-undo]");
  if (!form) return;
  const what = form.querySelector(".chair-undo-what");
  offered ??= form.hidden ? "" : what.textContent;
  const last = standing(kept, session).at(-1);
  what.textContent = last ? words.get(last.id) ?? "" : offered;
  // Once that was taken back too, only the server knows what comes before it.
  form.hidden = last ? isUndo(last) : offered === "";
}

document.addEventListener("chair:shown", () => { offered = null; });
