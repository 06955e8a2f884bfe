// A second press on a button while the first is on its way sends nothing.
// Markup: <form data-send-once>. The server refuses doubles by itself; this spares the person the refusal.

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!form.matches("[data-send-once]") || event.defaultPrevented) return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "1";
});

// Coming back with the browser's own button finds the form ready again; so does an htmx answer.
addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.detail.elt.closest("form");
  if (form) delete form.dataset.sent;
});
