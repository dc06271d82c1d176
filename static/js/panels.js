// Addresses stay short: a filter that is not set is left out of them.
document.addEventListener("formdata", (event) => {
  if (!event.target.hasAttribute("data-leave-out-empty")) return;
  for (const [name, value] of [...event.formData]) if (value === "") event.formData.delete(name);
});

// Signed out meanwhile: the whole page has to say so, not the list alone.
document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.target.id !== "list" || event.detail.serverResponse.includes('id="list"')) return;
  event.detail.shouldSwap = false;
  location.reload();
});
