// The bench's page by itself: the clock goes on, the list renews, and the names come back when nobody is here.
import { inUse, later } from "./live.js";

(() => {
  const RENEW = 60_000;
  let touched = Date.now();
  for (const kind of ["pointerdown", "keydown"]) {
    document.addEventListener(kind, () => { touched = Date.now(); }, { passive: true });
  }

  const bench = () => document.getElementById("bench");
  // Nothing is renewed under the hands of somebody who types or has opened a form.
  const busy = () => bench().querySelector("details[open], [role=alert]") || inUse(bench());

  const renew = (force = false) => {
    const now = bench();
    // A drawing renews itself, under the finger (pieces.js).
    if (now?.matches(".bench-drawing")) return true;
    if (!now || document.hidden || (busy() && !force) || !window.htmx) return false;
    htmx.ajax("GET", now.dataset.address, { target: "#bench", swap: "outerHTML", headers: { "X-Renews": force ? "asked" : "yes" } });
    return true;
  };

  // Somebody may have begun while the answer was on its way: what is new then waits, as it would have from the start.
  // An answer to a tap is shown in any case; what was opened meanwhile, save the form that it answers, stays as it is.
  let opened = [];
  let at = null;
  document.addEventListener("htmx:beforeSwap", (event) => {
    const { requestConfig, target } = event.detail;
    opened = [];
    if (target?.id !== "bench" || requestConfig.headers["X-Renews"] === "asked") return;
    if (requestConfig.headers["X-Renews"]) {
      if (!busy()) return;
      event.detail.shouldSwap = false;
      later();
      return;
    }
    const tapped = requestConfig.elt;
    opened = [...target.querySelectorAll("details[open]")].filter((one) => !one.contains(tapped) && one.querySelector("form[action]"));
    at = document.activeElement;
  });

  document.addEventListener("htmx:afterSwap", () => {
    for (const one of opened.splice(0)) {
      const { action } = one.querySelector("form").attributes;
      const drawn = document.querySelector(`#bench details form[action="${CSS.escape(action.value)}"]`)?.closest("details");
      drawn?.replaceWith(one);
      if (drawn && one.contains(at)) at.focus({ preventScroll: true });
    }
  });

  document.addEventListener("studio:changed", (event) => {
    if (!renew(event.detail.force)) event.preventDefault();
  });

  const leaveWhenIdle = () => {
    const leave = document.getElementById("leave");
    if (leave && Date.now() - touched > Number(bench().dataset.idle) * 1000) leave.form.requestSubmit(leave);
  };

  // Running timers count minutes on the page as the server does, so that they look alive between two renewals.
  const count = () => {
    const style = /h$/;
    for (const shown of document.querySelectorAll("[data-counts]")) {
      if (style.test(shown.textContent)) continue;
      shown.dataset.since ||= String(Date.now());
      const minutes = Number(shown.dataset.counts) + Math.floor((Date.now() - Number(shown.dataset.since)) / 60_000);
      shown.textContent = `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
    }
  };

  setInterval(() => renew(), RENEW);
  setInterval(() => { leaveWhenIdle(); count(); }, 15_000);

  // What a tap has moved under the finger is not tapped by the second half of a double tap. Keys are not held up.
  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.detail.requestConfig?.verb !== "post") return;
    bench()?.classList.add("just-changed");
    setTimeout(() => bench()?.classList.remove("just-changed"), 700);
  });

  // What is started from a list further down is then at the top.
  document.addEventListener("htmx:afterSwap", (event) => {
    const path = event.detail.requestConfig?.path || "";
    if (path.endsWith("/start/") && event.detail.xhr.status === 200) bench()?.scrollIntoView({ block: "start" });
  });

  // After a tap the focus stays where it was, or goes to what was refused, or to what is worked on now.
  document.addEventListener("htmx:afterSettle", () => {
    const refused = document.querySelector("#bench [role=alert]");
    const wrong = document.querySelector("#bench [aria-invalid=true]");
    if (wrong) wrong.focus();
    else if (refused) refused.focus();
    else if (document.activeElement === document.body) document.querySelector("#bench h2")?.focus({ preventScroll: true });
  });
})();
