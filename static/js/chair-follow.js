// Follows what another screen records and what the clocks bring: asks for the page again, and shows it if it changed.
// Marked as the page's own wish, so that following never keeps anybody signed in.

import { waiting } from "./chair-queue.js";
import { chair, serverNow, setClock, show } from "./chair-screen.js";

const EVERY_MS = 5000;
let timer = 0;

async function look() {
  const root = chair();
  const busy = document.activeElement?.closest("details[open], textarea, select");
  // What is kept here is not on the server yet: its page would be behind this one.
  if (root && !busy && (await waiting()).length === 0) {
    const headers = { "X-Background": "1", "If-None-Match": `"${root.dataset.tag}"` };
    const response = await fetch(root.dataset.screen, { headers }).catch(() => null);
    // Closed at another screen while this one is locked, or signed out: the page says so itself.
    if (response?.redirected || [403, 404].includes(response?.status)) return location.reload();
    setClock(response?.headers.get("X-Now"));
    if (response?.status === 200) show(await response.text());
  }
  return plan();
}

function plan() {
  clearTimeout(timer);
  const due = Date.parse(chair()?.dataset.nextAt ?? "") - serverNow();
  timer = setTimeout(look, due > 0 ? Math.min(due, EVERY_MS) : EVERY_MS);
}

// Back by the browser's own button: the page is as old as when it was left.
addEventListener("pageshow", (event) => event.persisted && location.reload());
document.addEventListener("chair:shown", plan);
plan();
