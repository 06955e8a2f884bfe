// The part of the page that changes: replaced as a whole by what the server made, or by a step sent ahead.
// Markup: <div data-chair data-session data-tag data-now data-screen data-event>, <template data-ahead data-after>

let base = { server: 0, steady: 0, wall: 0 };

export const chair = () => document.querySelector("[data-chair]");
// The server's time: a tablet whose clock is wrong, or is set meanwhile, neither shows nor records wrong times.
// The steady clock may stand still while the tablet sleeps, the wall clock may be set back: the longer one is true.
export const serverNow = () => base.server + Math.max(performance.now() - base.steady, Date.now() - base.wall);

export function setClock(instant) {
  const server = Date.parse(instant ?? "");
  if (!Number.isNaN(server)) base = { server, steady: performance.now(), wall: Date.now() };
}

export function show(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const [coming, here] = [page.querySelector("[data-chair]"), chair()];
  // An answer that was overtaken on its way must not bring back an older screen.
  if (!coming || (here && Date.parse(coming.dataset.now) < Date.parse(here.dataset.now))) return;
  for (const script of page.body.querySelectorAll("script")) script.remove();
  document.body.replaceChildren(...page.body.childNodes);
  document.title = page.title;
  setClock(chair().dataset.now);
  document.dispatchEvent(new CustomEvent("chair:shown"));
}

function clockFrom(at, mostSeconds) {
  const box = document.createElement("div");
  box.className = "chair-clocks";
  const clock = box.appendChild(document.createElement("p"));
  clock.className = "chair-clock";
  clock.setAttribute("role", "timer");
  clock.dataset.clockFrom = at;
  clock.dataset.clockLimit = new Date(Date.parse(at) + mostSeconds * 1000).toISOString();
  return box;
}

// Without a network: the step that the first offer leads to, as the server had sent it along.
export function showAhead(wire, at) {
  // Something done beside the step: the step itself stays where it is.
  const beside = document.querySelector(`[data-beside] [value="${CSS.escape(wire)}"]`)?.form.querySelector("button");
  if (beside) return beside.toggleAttribute("disabled", true);
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
  if ("clockFromTap" in next.dataset) chair().before(clockFrom(at, Number(next.dataset.clockFromTap)));
  return undefined;
}

setClock(chair()?.dataset.now);
