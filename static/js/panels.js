// Addresses stay short: a filter that is not set is left out of them.
document.addEventListener("formdata", (event) => {
  if (!event.target.hasAttribute("data-leave-out-empty")) return;
  for (const [name, value] of [...event.formData]) if (value === "") event.formData.delete(name);
});
