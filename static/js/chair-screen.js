// The part of the page that changes: replaced as a whole by what the server made, or by a step sent ahead.
// Markup: <div data-chair data-session data-tag data-now data-screen data-event>, <template data-ahead data-after>

let offset = 0;

export const chair = () => document.querySelector("[data-chair]");
// The server's time: a tablet whose clock is wrong neither shows nor records wrong times.
export const serverNow = () => Date.now() + offset;

export function setOffset() {
  const root = chair();
  if (root) offset = Date.parse(root.dataset.now) - Date.now();
}

export function show(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  if (!page.querySelector("[data-chair]")) return false;
  for (const script of page.body.querySelectorAll("script")) script.remove();
  document.body.replaceChildren(...page.body.childNodes);
  document.title = page.title;
  setOffset();
  document.dispatchEvent(new CustomEvent("chair:shown"));
  return true;
}

function clockFrom(at) {
  const box = document.createElement("div");
  box.className = "chair-clocks";
  const clock = box.appendChild(document.createElement("p"));
  clock.className = "chair-clock";
  clock.setAttribute("role", "timer");
  clock.dataset.clockFrom = at;
  return box;
}

// Without a network: the step that the first offer leads to, as the server had sent it along.
export function showAhead(wire, at) {
  const all = [...document.querySelectorAll("template[data-ahead]")];
  const next = all.find((each) => each.dataset.after === wire);
  const step = document.querySelector("[data-step]");
  document.querySelector(".chair-bottom").replaceChildren();
  if (!next) return step.querySelector("[data-step-choices]")?.replaceChildren();
  for (const each of all.slice(0, all.indexOf(next) + 1)) {
    if (each.dataset.ahead === next.dataset.ahead) each.remove();
  }
  step.replaceWith(next.content.cloneNode(true));
  if ("clockFromTap" in next.dataset || "clockStops" in next.dataset) document.querySelector(".chair-clocks")?.remove();
  if ("clockFromTap" in next.dataset) chair().before(clockFrom(at));
  return undefined;
}

setOffset();
