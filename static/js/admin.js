// What the admin's boxes that search while one types, and its tables, leave without a name, is named here.

const $ = window.django?.jQuery;

function said(select) {
  return select.getAttribute("aria-label") ?? select.labels[0]?.textContent.trim().replace(/:$/, "") ?? select.name;
}

// The box is named by its field, and what is chosen stands in it.
function name(select) {
  const box = select.parentElement.querySelector(".select2-selection");
  const shown = box?.querySelector(".select2-selection__rendered");
  if (!shown) return;
  shown.removeAttribute("role");
  shown.removeAttribute("aria-readonly");
  box.setAttribute("aria-labelledby", `${shown.id}-name ${shown.id}`);
  if (document.getElementById(`${shown.id}-name`)) return;
  const hidden = document.createElement("span");
  hidden.id = `${shown.id}-name`;
  hidden.hidden = true;
  hidden.textContent = said(select);
  box.after(hidden);
}

function nameAll(within) {
  for (const select of within.querySelectorAll("select.select2-hidden-accessible")) name(select);
}

if ($) {
  $(() => nameAll(document));
  document.addEventListener("formset:added", (event) => nameAll(event.target));
  $(document).on("select2:open", (event) => {
    const search = document.querySelector(".select2-container--open .select2-search__field");
    const box = event.target.parentElement.querySelector(".select2-selection");
    search?.setAttribute("aria-label", said(event.target));
    box.setAttribute("aria-controls", box.getAttribute("aria-owns"));
    // What is found lies outside of the page's regions.
    const found = search?.closest("body > .select2-container");
    found?.setAttribute("role", "region");
    found?.setAttribute("aria-label", said(event.target));
  });
  $(document).on("select2:close", (event) => {
    event.target.parentElement.querySelector(".select2-selection").removeAttribute("aria-controls");
  });
}

for (const head of document.querySelectorAll("th.original:empty")) {
  const hidden = document.createElement("span");
  hidden.className = "visually-hidden";
  hidden.textContent = "Row";
  head.append(hidden);
}
