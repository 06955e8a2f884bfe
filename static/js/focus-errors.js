// Brings the list of problems into view and under the reader's cursor, on load and after an htmx answer.
// Markup: <div data-focus-errors tabindex="-1">

const focusFirst = (root) => root.querySelector("[data-focus-errors]")?.focus();

focusFirst(document);
document.addEventListener("htmx:afterSettle", (event) => focusFirst(event.target));

// A link in the list puts the cursor into the control itself, not only near it.
document.addEventListener("click", (event) => {
  const link = event.target.closest("[data-focus-errors] a[href^='#']");
  if (!link) return;
  const control = document.getElementById(link.hash.slice(1));
  if (!control) return;
  event.preventDefault();
  control.focus();
  control.scrollIntoView({ block: "center" });
});
