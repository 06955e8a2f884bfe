// Says "working" when an answer takes longer than a glance. What the page asks for by itself stays silent.

const PATIENCE_MS = 300;
let waiting = 0;
let timer = 0;

const show = () => document.body.toggleAttribute("data-busy", waiting > 0);

const counts = (event) => !event.detail.elt.closest("[data-background]");

document.addEventListener("htmx:beforeSend", (event) => {
  if (!counts(event)) return;
  waiting += 1;
  clearTimeout(timer);
  timer = setTimeout(show, PATIENCE_MS);
});

document.addEventListener("htmx:afterRequest", (event) => {
  if (!counts(event)) return;
  waiting = Math.max(0, waiting - 1);
  if (!waiting) {
    clearTimeout(timer);
    show();
  }
});
