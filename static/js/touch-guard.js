// Beside the chair: touches in the same place within 600 ms count once, and "Wipe the screen" ignores touch for 20 s.
// Markup: <body data-touch-guard>, <button data-wipe>, <p data-wipe-left hidden>

const SAME_MS = 600;
const SAME_PX = 48;
const WIPE_MS = 20000;
const guard = document.querySelector("[data-touch-guard]");
let last = { at: -Infinity, x: 0, y: 0, label: null };
let deafUntil = 0;

function swallow(event) {
  event.preventDefault();
  event.stopImmediatePropagation();
}

function onClick(event) {
  const now = performance.now();
  if (now < deafUntil) return swallow(event);
  // A key press has no place on the screen (detail 0) and is never a bouncing knuckle.
  if (event.detail === 0) return undefined;
  // Pressing a label makes a second click at once, on its own control: the same press, not a bounce.
  if (last.label?.control === event.target) {
    last.label = null;
    return undefined;
  }
  const near = Math.hypot(event.clientX - last.x, event.clientY - last.y) < SAME_PX;
  if (near && now - last.at < SAME_MS) return swallow(event);
  const label = event.target.closest("label");
  // Pressed directly, the control makes no second click, so the next one would be a bounce.
  last = { at: now, x: event.clientX, y: event.clientY, label: label?.control === event.target ? null : label };
  return undefined;
}

function wipe() {
  const note = document.querySelector("[data-wipe-left]");
  deafUntil = performance.now() + WIPE_MS;
  const count = () => {
    const left = Math.ceil((deafUntil - performance.now()) / 1000);
    document.body.toggleAttribute("data-wiping", left > 0);
    if (note) {
      note.hidden = left <= 0;
      note.querySelector("[data-seconds]").textContent = String(Math.max(0, left));
    }
    if (left > 0) setTimeout(count, 250);
  };
  count();
}

if (guard) {
  document.addEventListener("click", onClick, { capture: true });
  document.addEventListener("click", (event) => event.target.closest("[data-wipe]") && wipe());
}
