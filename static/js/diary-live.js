// Brings what other desks change into an open page of the diary or of a case, within three seconds and never under a finger.
// Asks for the page again by itself, marked so that it never keeps anybody signed in; 304 while nothing changed.
// Markup: <table id data-live data-live-tag data-grid>, <p id data-live>, <p data-live-lost hidden>,
// <p data-live-status data-word>, and data-item on whatever takes the focus.

const EVERY_MS = 2000;
const AGAIN_MS = 250;
const CALM_MS = 600;
const PATIENCE = 3;
let pressed = false;
let usedAt = -CALM_MS;
let missed = 0;
let own = false;
let timer = 0;

const used = () => (usedAt = performance.now());
const main = () => document.querySelector("[data-live-tag]");
const parts = (root) => [...root.querySelectorAll("[data-live]")];
// A press that began here, an open dialog, a visit on its way, or somebody who moves about in the grid right now.
const inUse = () =>
  pressed || document.querySelector("dialog[open], [data-moving]") || performance.now() - usedAt < CALM_MS;

function swap(coming) {
  const item = document.activeElement?.closest("[data-item]")?.dataset.item;
  const frame = main().closest(".table-frame");
  const [top, start] = [frame?.scrollTop, frame?.scrollLeft];
  for (const part of parts(document)) {
    const next = coming.getElementById(part.id);
    // What was unfolded stays so.
    const named = (fold) => fold.querySelector("summary")?.textContent;
    const unfolded = [...part.querySelectorAll("details[open]")].map(named);
    for (const fold of next.querySelectorAll("details")) fold.open ||= unfolded.includes(named(fold));
    part.replaceWith(next);
  }
  const again = item && document.querySelector(`[data-item="${CSS.escape(item)}"]`);
  again?.focus({ preventScroll: true });
  frame?.scrollTo(start, top);
}

function take(text) {
  const coming = new DOMParser().parseFromString(text, "text/html");
  const ids = (root) => parts(root).map((part) => part.id).join();
  // Another day by now, or a part that was not there before: the page as a whole is another. Not loaded anew,
  // which would count as somebody's doing.
  if (coming.title !== document.title || ids(coming) !== ids(document)) {
    document.title = coming.title;
    return document.getElementById("content").replaceWith(coming.getElementById("content"));
  }
  const [before, after] = [main(), coming.querySelector("[data-live-tag]")].map((part) => part.dataset.liveTag);
  swap(coming);
  // What comes with the minute is no news, nor what was done here.
  if (!own && before.split(".")[0] !== after.split(".")[0]) {
    const status = document.querySelector("[data-live-status]");
    status.textContent = status.dataset.word;
  }
  own = false;
  return undefined;
}

async function look() {
  if (document.hidden || !main()) return;
  if (inUse()) return plan(AGAIN_MS);
  const headers = { "X-Background": "1", "If-None-Match": `"${main().dataset.liveTag}"` };
  const response = await fetch(location.href, { headers }).catch(() => null);
  // Locked or signed out meanwhile: the page says so itself.
  if (response?.redirected || [403, 404].includes(response?.status)) return location.reload();
  const answered = response?.status === 200 || response?.status === 304;
  missed = answered ? 0 : missed + 1;
  document.querySelector("[data-live-lost]").hidden = missed < PATIENCE;
  if (response?.status === 200) {
    const text = await response.text().catch(() => null);
    if (inUse()) return plan(AGAIN_MS);
    if (text !== null) take(text);
  }
  return plan(EVERY_MS);
}

function plan(wait) {
  clearTimeout(timer);
  timer = setTimeout(look, wait);
}

if (main()) {
  for (const kind of ["pointermove", "keydown", "wheel"]) {
    document.addEventListener(kind, (event) => event.target.closest?.("[data-grid], [data-rows]") && used(), { passive: true });
  }
  document.addEventListener("pointerdown", () => (pressed = true));
  for (const kind of ["pointerup", "pointercancel"]) {
    document.addEventListener(kind, () => {
      pressed = false;
      used();
    });
  }
  // A release that never came here, as after a menu of the browser's own.
  document.addEventListener("pointermove", (event) => (pressed &&= event.buttons !== 0), { passive: true });
  document.addEventListener("visibilitychange", look);
  // After an own change there is no reason to wait.
  document.addEventListener("diary:changed", () => {
    own = true;
    plan(0);
  });
  plan(EVERY_MS);
}
