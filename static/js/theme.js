// Light or dark by hand; without a choice the device decides.
// Markup: <button data-theme-toggle>

const YEAR_S = 31536000;
const root = document.documentElement;
const prefersDark = matchMedia("(prefers-color-scheme: dark)");

document.addEventListener("click", (event) => {
  if (!event.target.closest("[data-theme-toggle]")) return;
  const now = root.dataset.theme || (prefersDark.matches ? "dark" : "light");
  const next = now === "dark" ? "light" : "dark";
  root.dataset.theme = next;
  document.cookie = `casebook_theme=${next}; path=/; max-age=${YEAR_S}; SameSite=Lax`;
});
