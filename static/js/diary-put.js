// Moves a visit on the diary page: M picks up the one with the focus, arrow keys aim, Enter puts it there; or it is
// dragged by a mouse. The server decides, with the same checks as everywhere, and the page says how it went.
// Markup: <th data-put>, <a data-item data-version>, [data-put-pick], [data-put-bar] with [data-put-words], [data-put-answer].

const STEPS = { ArrowDown: [1, 0], ArrowUp: [-1, 0], ArrowRight: [0, 1], ArrowLeft: [0, -1] };
const one = (selector) => document.querySelector(selector);
const grid = () => one("[data-grid]");
const columns = () => [...grid().tHead.rows[0].cells].slice(1);
const rows = () => [...grid().tBodies[0].rows].map((row) => row.cells[0]);
const clamp = (number, list) => Math.min(Math.max(number, 0), list.length - 1);
let moving = null;

/** The head whose side lies around or nearest to a point; a hidden column has no place. */
function nearest(heads, point, from, to) {
  const away = (head) => {
    const box = head.getBoundingClientRect();
    return box.width ? Math.max(box[from] - point, point - box[to] + 1, 0) : Infinity;
  };
  return heads.reduce((best, head, number) => (away(head) < away(heads[best]) ? number : best), 0);
}

/** The free quarter at a row and a column; a visit or a closed time has none there. */
function freeAt(row, column) {
  const box = column.getBoundingClientRect();
  const x = box.left + box.width / 2;
  const around = (cell) => cell.getBoundingClientRect().left <= x && x < cell.getBoundingClientRect().right;
  return [...row.parentElement.querySelectorAll("td.day-free")].find(around);
}

const rowAt = (y) => nearest(rows(), y, "top", "bottom");
const columnAt = (x) => nearest(columns(), x, "left", "right");

function aim(row, column) {
  moving.at = [clamp(row, rows()), clamp(column, columns())];
  const heads = [rows()[moving.at[0]], columns()[moving.at[1]]];
  for (const old of grid().querySelectorAll(".day-aim")) old.classList.remove("day-aim");
  const marked = [...heads, freeAt(...heads)].filter(Boolean);
  for (const each of marked) each.classList.add("day-aim");
  if (moving.by === "keys") heads[0].scrollIntoView({ block: "nearest" });
  const words = one("[data-put-words]");
  const say = ([time, place]) => `${time.textContent.trim()}, ${place.textContent}`;
  words.textContent = words.dataset.words.replace("{from}", moving.from).replace("{to}", say(heads));
  return say(heads);
}

function pick(link, by, grip = 0) {
  const box = link.closest("td").getBoundingClientRect();
  moving = { link, by, grip, from: "", at: [0, 0] };
  moving.from = aim(rowAt(box.top + 2), columnAt(box.left + box.width / 2));
  moving.start = moving.at;
  moving.of = new URLSearchParams(columns()[moving.at[1]].dataset.put).get("to");
  aim(...moving.at);
  grid().toggleAttribute("data-moving", true);
  link.closest(".day-booking").classList.add("day-picked");
  one("[data-put-bar]").hidden = by !== "keys";
}

function leave() {
  for (const each of document.querySelectorAll(".day-aim, .day-picked")) each.classList.remove("day-aim", "day-picked");
  grid().removeAttribute("data-moving");
  one("[data-put-bar]").hidden = true;
  moving = null;
}

async function send(address, body) {
  body.set("csrfmiddlewaretoken", one("[name=csrfmiddlewaretoken]").value);
  const response = await fetch(address, { method: "POST", body }).catch(() => null);
  if (!response || response.redirected) return location.reload();
  const page = new DOMParser().parseFromString(await response.text(), "text/html");
  one("[data-put-answer]").replaceChildren(...page.body.childNodes);
  one("[data-put-answer] [role=alert]")?.focus();
  document.dispatchEvent(new CustomEvent("diary:changed"));
}

function drop() {
  const { link, at, of, start } = moving;
  const parts = [rows()[at[0]].dataset.put, columns()[at[1]].dataset.put];
  leave();
  if (String(at) === String(start)) return;
  const body = new URLSearchParams(parts.join("&"));
  body.set("of", of);
  body.set("version", link.dataset.version);
  send(`${link.getAttribute("href")}put/`, body);
}

// Before the keys that go over the grid, which stand still meanwhile.
document.addEventListener(
  "keydown",
  (event) => {
    if (moving?.by !== "keys" || one("dialog[open]")) return;
    if (event.key in STEPS) aim(...moving.at.map((each, side) => each + STEPS[event.key][side]));
    else if (event.key === "Enter" && !event.target.closest("[data-put-leave]")) drop();
    else if (event.key === "Escape") leave();
    else return;
    event.preventDefault();
    event.stopImmediatePropagation();
  },
  { capture: true },
);

document.addEventListener("click", (event) => {
  const back = event.target.closest("[data-put-back]");
  const link = document.activeElement?.closest("a[data-version]");
  if (event.target.closest("[data-put-pick]") && link && !moving) pick(link, "keys");
  if (event.target.closest("[data-put-leave]")) leave();
  if (back) send(back.dataset.putTo, new URLSearchParams(back.dataset.putBack));
});

document.addEventListener("dragstart", (event) => {
  const link = event.target.closest?.("a[data-version]");
  if (!link || !grid().contains(link)) return;
  if (moving) leave();
  pick(link, "mouse", event.clientY - link.closest("td").getBoundingClientRect().top);
});
document.addEventListener("dragover", (event) => {
  if (moving?.by !== "mouse" || !grid().contains(event.target)) return;
  event.preventDefault();
  aim(rowAt(event.clientY - moving.grip + 2), columnAt(event.clientX));
});
document.addEventListener("drop", (event) => {
  if (moving?.by !== "mouse") return;
  event.preventDefault();
  drop();
});
document.addEventListener("dragend", () => moving && leave());
