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

const teethOf = (group) => [...group.querySelectorAll("[data-tooth]")];

// A row as one sees it: an arch, or on a narrow screen each of its quarters.
const rows = () => {
  const arches = [...part.querySelectorAll(".arch")];
  const [first, second] = arches[0].children;
  return (first.offsetTop === second.offsetTop ? arches : arches.flatMap((arch) => [...arch.children])).map(teethOf);
};

const step = (button, event) => {
  const along = { ArrowRight: 1, ArrowLeft: -1 }, across = { ArrowDown: 1, ArrowUp: -1 };
  if (event.key in along) {
    const arch = teethOf(button.closest(".arch"));
    (arch[arch.indexOf(button) + along[event.key]] ?? button).focus();
  } else if (event.key in across) {
    const all = rows();
    const at = all.findIndex((row) => row.includes(button));
    (all[at + across[event.key]]?.[all[at].indexOf(button)] ?? button).focus();
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
