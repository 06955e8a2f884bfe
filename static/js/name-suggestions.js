// Offers names while somebody types a list, one to a line. A name is only put in by a press; without this script
// the list is typed as before.
// Markup: <div data-suggest="ID of a datalist"><textarea> <div class="suggestions" data-suggested="{count} names fit" role="group" aria-label></div> <span role="status"></span></div>

const LETTERS_LEAST = 3;
const MOST = 5;

const folded = (text) => text.toLowerCase().normalize("NFKD").replace(/\p{M}|['’]/gu, "").trim();

/** The line that the cursor is in: where it begins, where it ends, what it says. */
const lineOf = (field) => {
  const start = field.value.lastIndexOf("\n", field.selectionStart - 1) + 1;
  const stop = field.value.indexOf("\n", field.selectionStart);
  const end = stop === -1 ? field.value.length : stop;
  return { start, end, text: folded(field.value.slice(start, end)) };
};

/** Names that begin so come before names that hold it; a line that is a name already needs none. */
const fitting = (names, text) => {
  if (text.length < LETTERS_LEAST || names.some((name) => folded(name) === text)) return [];
  const place = (name) => folded(name).indexOf(text);
  const found = names.filter((name) => place(name) !== -1);
  return found.sort((one, other) => place(one) - place(other) || one.localeCompare(other)).slice(0, MOST);
};

const put = (field, name) => {
  const { start, end } = lineOf(field);
  field.setRangeText(name, start, end, "end");
  field.focus();
  field.dispatchEvent(new Event("input", { bubbles: true }));
};

for (const part of document.querySelectorAll("[data-suggest]")) {
  const field = part.querySelector("textarea");
  const row = part.querySelector("[data-suggested]");
  const status = part.querySelector("[role=status]");
  const names = [...document.getElementById(part.dataset.suggest).options].map((option) => option.value);
  field.addEventListener("input", () => {
    const found = fitting(names, lineOf(field).text);
    row.replaceChildren(
      ...found.map((name) => {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "quiet";
        button.textContent = name;
        button.addEventListener("click", () => put(field, name));
        return button;
      }),
    );
    status.textContent = found.length ? row.dataset.suggested.replace("{count}", found.length) : "";
  });
}
