// Arrow keys move between the links of a table marked data-grid, the way the eye moves: by place on the page.

const MOVES = { ArrowDown: [0, 1], ArrowUp: [0, -1], ArrowRight: [1, 0], ArrowLeft: [-1, 0] };

const middle = (element) => {
  const box = element.getBoundingClientRect();
  return [box.left + box.width / 2, box.top + box.height / 2];
};

/** The nearest link in the direction; a step sideways counts three times as far as one straight on. */
const next = (links, from, [dx, dy]) => {
  const [x, y] = middle(from);
  const distance = (link) => {
    const [a, b] = middle(link);
    const ahead = (a - x) * dx + (b - y) * dy;
    const aside = Math.abs((a - x) * dy) + Math.abs((b - y) * dx);
    return ahead > 1 ? ahead + 3 * aside : Infinity;
  };
  return links.reduce((best, link) => (distance(link) < distance(best) ? link : best), from);
};

document.addEventListener("keydown", (event) => {
  const grid = event.target.closest?.("[data-grid]") ?? document.querySelector("[data-grid]");
  const typing = event.target.closest?.("input, textarea, select");
  if (!grid || typing || !(event.key in MOVES)) return;
  const links = [...grid.querySelectorAll("a[href]")];
  if (!links.length) return;
  const current = links.includes(document.activeElement) ? document.activeElement : null;
  (current ? next(links, current, MOVES[event.key]) : links[0]).focus();
  event.preventDefault();
});
