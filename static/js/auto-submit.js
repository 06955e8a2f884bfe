// Sends a form as soon as a choice in it changes.
// Markup: <select data-auto-submit>. A plain button stays in the form for those without scripts.

document.addEventListener("change", (event) => {
  if (event.target.matches("[data-auto-submit]")) event.target.form.requestSubmit();
});
