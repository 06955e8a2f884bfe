// The day's list: an item counts as shown once it has stood in full view as long as it takes to read it, one after
// the other; a tick by hand, or an answer, counts at once. What answers the whole list waits for the last of them.
// Markup: <form data-shown-list>, in it data-shown-item around <input type="checkbox" data-shown>,
// <button data-needs-shown>, <p data-shown-count hidden> with <span data-shown-done>

const LEAST_MS = 1000;
const MS_A_LETTER = 40;
const TICK_MS = 100;
const inView = new Set();
const watcher = new IntersectionObserver((entries) => {
  for (const { target, intersectionRatio } of entries) {
    if (intersectionRatio > 0.98) inView.add(target);
    else inView.delete(target);
  }
}, { threshold: [0, 0.99, 1] });
let reading = { item: null, since: 0 };

const box = (item) => item.querySelector("[data-shown]");
const takes = (item) => Math.max(LEAST_MS, item.textContent.trim().length * MS_A_LETTER);

function tick() {
  for (const list of document.querySelectorAll("[data-shown-list]")) {
    const items = [...list.querySelectorAll("[data-shown-item]")];
    for (const item of items) watcher.observe(item);
    const left = items.filter((item) => !box(item).checked);
    read(left.find((item) => document.visibilityState === "visible" && inView.has(item)));
    for (const item of items) item.toggleAttribute("data-reading", item === reading.item);
    for (const button of list.querySelectorAll("[data-needs-shown]")) button.disabled = left.length > 0;
    const count = list.querySelector("[data-shown-count]");
    count.hidden = false;
    count.querySelector("[data-shown-done]").textContent = String(items.length - left.length);
  }
}

function read(item) {
  if (item !== reading.item) reading = { item: item ?? null, since: performance.now() };
  else if (item && performance.now() - reading.since >= takes(item)) box(item).checked = true;
}

document.addEventListener("change", ({ target }) => {
  const item = target.closest("[data-shown-item]");
  if (item && target.matches("[type=radio]")) box(item).checked = true;
});
setInterval(tick, TICK_MS);
tick();
