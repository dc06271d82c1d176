// What every page shares. Pages work without it; it only makes them smoother.

// Where the pages do not fit side by side, the one that is open is among those that are seen.
const showWhereWeAre = () => {
  for (const here of document.querySelectorAll("nav [aria-current]")) {
    const row = here.closest("nav");
    const [is, around] = [here.getBoundingClientRect(), row.getBoundingClientRect()];
    row.scrollLeft += is.left - around.left - (around.width - is.width) / 2;
  }
};
showWhereWeAre();
addEventListener("resize", showWhereWeAre);
// Browsers leave a link that gets the focus half outside of such a row.
document.addEventListener("focusin", (event) => {
  if (event.target.closest("nav a")) event.target.scrollIntoView({ block: "nearest", inline: "nearest" });
});

// Filters and choices that say so are sent as soon as they change; their button is for pages without JavaScript.
document.addEventListener("change", (event) => {
  const form = event.target.closest("form[data-send-on-change]");
  if (form) form.requestSubmit();
});

// A form that is on its way is not sent twice by a second tap.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || form.hasAttribute("hx-post")) return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = "yes";
  setTimeout(() => delete form.dataset.sent, 3000);
});

// What a bench page keeps on a tablet is gone once somebody signs out, or has to sign in; what waits to be sent is not.
const forgetPages = () => self.caches?.delete("bench-pages");
document.addEventListener("submit", (event) => { if (event.target.matches(".sign-out")) forgetPages(); });
if (document.querySelector("form[action='/sign-in/']")) forgetPages();

// After a swap, put the focus on what is wrong, so that nobody has to look for it.
document.addEventListener("htmx:afterSettle", (event) => {
  event.target.querySelector?.("[aria-invalid=true]")?.focus();
});
