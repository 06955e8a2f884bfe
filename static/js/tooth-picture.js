// The picture of the arches: each tooth is a button that opens its own entry. Arrow keys walk along an arch.
// Without this module the entries are plain disclosure elements, one below the other.

const part = document.querySelector("[data-teeth]");
const buttons = [...part.querySelectorAll("[data-tooth]")];
const entryOf = (button) => part.querySelector(`[data-tooth-entry="${button.dataset.tooth}"]`);

const isEntered = (entry) => [...entry.querySelectorAll("input")].some((input) =>
  input.type === "checkbox" ? input.checked : input.value !== "");

const show = (button) => {
  const entry = entryOf(button);
  button.setAttribute("aria-expanded", String(entry.open));
  button.toggleAttribute("data-entered", isEntered(entry));
  entry.hidden = !entry.open;
};

const open = (button) => {
  const entry = entryOf(button);
  entry.open = !entry.open;
  show(button);
  if (entry.open) entry.querySelector("input").focus();
};

const step = (button, event) => {
  const row = [...button.parentElement.children];
  const moves = { ArrowRight: 1, ArrowLeft: -1 };
  const place = row.indexOf(button);
  if (event.key in moves) (row[place + moves[event.key]] ?? button).focus();
  else if (event.key === "ArrowUp" || event.key === "ArrowDown") {
    const other = [...part.querySelectorAll(".arch")].find((arch) => arch !== button.parentElement);
    other.children[place].focus();
  } else return;
  event.preventDefault();
};

part.querySelector("[data-arches]").hidden = false;
for (const button of buttons) {
  const entry = entryOf(button);
  button.addEventListener("click", () => open(button));
  button.addEventListener("keydown", (event) => step(button, event));
  entry.addEventListener("change", () => show(button));
  entry.addEventListener("toggle", () => show(button));
  show(button);
}
