// Arrow keys move over the visits and the free quarters of a table marked data-grid, the way the eye moves:
// by place on the page. Enter or a click on a free quarter goes where a visit is booked at that time.
// Markup: <table data-grid data-free="free" data-free-link>, <td class="day-free" data-item="what names it">; <th scope> of row and column say it.

const MOVES = { ArrowDown: [0, 1], ArrowUp: [0, -1], ArrowRight: [1, 0], ArrowLeft: [-1, 0] };

const middle = (element) => {
  const box = element.getBoundingClientRect();
  return [box.left + box.width / 2, box.top + box.height / 2];
};

/** The nearest place in the direction; a step sideways counts three times as far as one straight on. */
const next = (places, from, [dx, dy]) => {
  const [x, y] = middle(from);
  const distance = (place) => {
    const [a, b] = middle(place);
    const ahead = (a - x) * dx + (b - y) * dy;
    const aside = Math.abs((a - x) * dy) + Math.abs((b - y) * dx);
    return ahead > 1 ? ahead + 3 * aside : Infinity;
  };
  return places.reduce((best, place) => (distance(place) < distance(best) ? place : best), from);
};

const book = (grid, free) => location.assign(`${grid.dataset.freeLink}?${free.dataset.item.replace(" ", "&")}`);

/** Only the quarter that has the focus can have it: Tab goes from visit to visit. */
function focus(grid, place) {
  for (const old of grid.querySelectorAll("td[tabindex]")) if (old !== place) old.removeAttribute("tabindex");
  if (place.matches("td")) {
    place.tabIndex = -1;
    const column = [...grid.tHead.rows[0].cells].reduce((near, head) => {
      const [x, y, z] = [near, head, place].map((each) => middle(each)[0]);
      return Math.abs(y - z) < Math.abs(x - z) ? head : near;
    });
    const time = place.parentElement.cells[0].textContent.trim();
    place.setAttribute("aria-label", `${grid.dataset.free}, ${time}, ${column.textContent}`);
    if (grid.dataset.freeLink) place.setAttribute("role", "link");
  }
  place.focus();
}

document.addEventListener("keydown", (event) => {
  const grid = event.target.closest?.("[data-grid]") ?? document.querySelector("[data-grid]");
  const typing = event.target.closest?.("input, textarea, select, dialog");
  if (!grid || typing || event.ctrlKey || event.metaKey || event.altKey) return;
  const free = event.target.closest?.("td.day-free");
  if (event.key === "Enter" && free && grid.dataset.freeLink) book(grid, free);
  if (!(event.key in MOVES)) return;
  const places = [...grid.querySelectorAll("a[href], td.day-free")].filter((place) => place.checkVisibility());
  if (!places.length) return;
  const current = places.includes(document.activeElement) ? document.activeElement : null;
  const first = places.find((place) => place.matches("a")) ?? places[0];
  focus(grid, current ? next(places, current, MOVES[event.key]) : first);
  event.preventDefault();
});

document.addEventListener("click", (event) => {
  const free = event.target.closest?.("[data-free-link] td.day-free");
  if (free) book(free.closest("[data-grid]"), free);
});
