// Puts an address that is shown once where it can be pasted from.
// Markup: <div data-copy-address><input readonly> … <button data-copied="said afterwards"> <span role="status">

document.addEventListener("click", async (event) => {
  const button = event.target.closest("[data-copy-address] button");
  if (!button) return;
  const part = button.closest("[data-copy-address]");
  const input = part.querySelector("input");
  // Selected in any case: where the browser refuses, the person's own keys copy it.
  input.select();
  try {
    await navigator.clipboard.writeText(input.value);
    part.querySelector("[role=status]").textContent = button.dataset.copied;
  } catch {
    input.focus();
  }
});
