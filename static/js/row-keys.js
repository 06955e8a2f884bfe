// One key for each usual act on the visit that has the focus, in a list marked data-rows; arrow keys go from visit
// to visit. A key that is pressed outside the list goes to the first visit that has such an act, and does nothing yet.
// After an act the address leads back to the link of that visit, which takes the focus by itself.
// Markup: <ul data-rows>, <li data-row>, <a data-item> to hold the focus, <button data-row-key="a" data-key-word>.

const STEPS = { ArrowDown: 1, ArrowUp: -1 };
const typing = (target) => target.closest?.("input, textarea, select, dialog, [contenteditable]");
const focus = (row) => row?.querySelector("[data-item]")?.focus();

function step(current, by) {
  const rows = [...document.querySelectorAll("[data-row]")];
  focus(rows[current ? rows.indexOf(current) + by : 0]);
}

document.addEventListener("keydown", (event) => {
  const off = document.querySelector("[data-keys-switch]")?.checked === false;
  if (off || event.ctrlKey || event.metaKey || event.altKey || event.isComposing || event.repeat) return;
  if (typing(event.target) || document.querySelector("dialog[open]")) return;
  const current = document.activeElement?.closest("[data-row]");
  const act = `[data-row-key="${CSS.escape(event.key)}"]`;
  if (event.key in STEPS) {
    // Elsewhere arrow keys scroll the page, as everywhere.
    if (!current && document.activeElement !== document.body) return;
    step(current, STEPS[event.key]);
  } else if (!document.querySelector(act)) return;
  else if (current) current.querySelector(act)?.click();
  else focus(document.querySelector(act).closest("[data-row]"));
  event.preventDefault();
});
