// Single keys: ? lists them, h hides names, / goes to the search field, and each element with data-key has its own;
// those of data-row-key are listed here too and work in row-keys.js.
// Markup: <a data-key="n">, <dialog id="keys">, <input data-keys-switch> which turns them all off.

const dialog = document.getElementById("keys");
const toggle = dialog?.querySelector("[data-keys-switch]");
const typing = (target) => target.closest("input, textarea, select, [contenteditable]");

function list() {
  for (const row of dialog.querySelectorAll("[data-own-key]")) row.remove();
  // Those of every page stand there already.
  const listed = new Set([...dialog.querySelectorAll("dt kbd")].map((key) => key.textContent));
  for (const element of document.querySelectorAll("[data-key], [data-row-key]")) {
    const letter = element.dataset.key ?? element.dataset.rowKey;
    if (listed.has(letter)) continue;
    listed.add(letter);
    const row = document.createElement("div");
    row.dataset.ownKey = "";
    const key = row.appendChild(document.createElement("dt")).appendChild(document.createElement("kbd"));
    key.textContent = letter;
    row.appendChild(document.createElement("dd")).textContent = element.dataset.keyWord || element.textContent.trim();
    dialog.querySelector("dl").append(row);
  }
}

function open() {
  list();
  dialog.showModal();
}

if (dialog) {
  toggle.checked = !document.cookie.includes("casebook_keys=off");
  toggle.addEventListener("change", () => {
    document.cookie = `casebook_keys=${toggle.checked ? "on" : "off"}; path=/; max-age=31536000; SameSite=Lax`;
  });
  document.addEventListener("click", (event) => event.target.closest("[data-open-keys]") && open());
  document.addEventListener("keydown", (event) => {
    if (!toggle.checked || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (typing(event.target) || dialog.open) return;
    const own = document.querySelector(`[data-key="${CSS.escape(event.key)}"]`);
    if (event.key === "?") open();
    else if (event.key === "h") document.querySelector("[data-hide-names]")?.click();
    else if (event.key === "/") document.querySelector("[type=search]")?.focus();
    else if (own) own.click();
    else return;
    event.preventDefault();
  });
}
