// The floor renews itself. It waits while nobody looks or somebody types, and leaves open what was opened.
import { inUse, later } from "./live.js";

(() => {
  let kept = null;
  let force = false;
  let asked = false;
  const isFloor = (event) => event.target.id === "floor";

  document.addEventListener("htmx:beforeRequest", (event) => {
    if (!isFloor(event)) return;
    if (document.hidden || (inUse(document.body) && !force)) event.preventDefault();
    asked = force;
  });

  document.addEventListener("studio:changed", (event) => {
    force = event.detail.force;
    if (document.hidden || (inUse(document.body) && !force)) event.preventDefault();
    else htmx.ajax("GET", location.pathname + location.search, { target: "#floor", source: "#floor", swap: "outerHTML" });
    force = false;
  });

  document.addEventListener("htmx:beforeSwap", (event) => {
    if (!isFloor(event)) return;
    if (!event.detail.serverResponse.includes('id="floor"')) {
      // Signed out meanwhile: the whole page has to say so, not a part of it.
      event.detail.shouldSwap = false;
      location.reload();
      return;
    }
    // Somebody may have begun to type while the answer was on its way.
    if (inUse(document.body) && !asked) {
      event.detail.shouldSwap = false;
      later();
      return;
    }
    const at = document.activeElement;
    const inside = at && event.target.contains(at);
    kept = {
      open: [...event.target.querySelectorAll("details[open]")].map((details) => details.id),
      focus: inside ? { tag: at.tagName, href: at.getAttribute("href"), text: at.textContent } : null,
    };
  });

  document.addEventListener("htmx:afterSwap", () => {
    const floor = document.getElementById("floor");
    if (!kept || !floor) return;
    for (const id of kept.open) document.getElementById(id)?.setAttribute("open", "");
    if (kept.focus) {
      [...floor.querySelectorAll(kept.focus.tag)]
        .find((one) => one.getAttribute("href") === kept.focus.href && (kept.focus.href || one.textContent === kept.focus.text))
        ?.focus({ preventScroll: true });
    }
    kept = null;
  });
})();
