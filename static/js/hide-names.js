// One key or button hides every person's name on the screen, and on the next pages until it is pressed again;
// what comes later into an open page is hidden with it, for the root says so and not each name.
// Markup: <button data-hide-names aria-pressed>, <bdi data-person>. The key itself is in keys.js.

const root = document.documentElement;

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-hide-names]");
  if (!button) return;
  const hidden = root.dataset.names !== "hidden";
  if (hidden) root.dataset.names = "hidden";
  else delete root.dataset.names;
  for (const each of document.querySelectorAll("[data-hide-names]")) each.setAttribute("aria-pressed", String(hidden));
  // A session cookie: the wish ends with the browser, and says nothing about anybody.
  document.cookie = `casebook_names=${hidden ? "hidden" : "shown"}; path=/; SameSite=Lax`;
});
