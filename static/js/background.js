// Marks what the page asks for by itself, so that it never keeps a session awake, and holds it back
// while nobody looks or while somebody is typing inside the part it would replace.
// Markup: <div data-background hx-get="…" hx-trigger="every 60s">

document.addEventListener("htmx:configRequest", (event) => {
  if (event.detail.elt.closest("[data-background]")) event.detail.headers["X-Background"] = "1";
});

document.addEventListener("htmx:beforeRequest", (event) => {
  const part = event.detail.elt.closest("[data-background]");
  if (!part) return;
  const inUse = part.contains(document.activeElement) || document.querySelector("dialog[open]");
  if (document.hidden || inUse) event.preventDefault();
});
