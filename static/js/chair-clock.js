// Ticks every clock from the instant the server gave; past its limit a clock says so by a word as well as by colour.
// Markup: <p data-clock-from="ISO instant" data-clock-limit="ISO instant">

import { serverNow } from "./chair-screen.js";

const TICK_MS = 250;
const two = (number) => String(number).padStart(2, "0");

function tick() {
  for (const clock of document.querySelectorAll("[data-clock-from]")) {
    const now = serverNow();
    const seconds = Math.max(0, Math.floor((now - Date.parse(clock.dataset.clockFrom)) / 1000));
    clock.textContent = `${two(Math.floor(seconds / 60))}:${two(seconds % 60)}`;
    const limit = Date.parse(clock.dataset.clockLimit ?? "");
    clock.toggleAttribute("data-over", now >= limit);
  }
}

setInterval(tick, TICK_MS);
document.addEventListener("chair:shown", tick);
tick();
