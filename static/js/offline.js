// The bench goes on while the studio's computer is away: every tap is written down on the tablet before it is sent, and
// taken off its list once the server has answered. What waits is shown, and sent in its order when the line is back.
import { happened, heard, reading } from "./clock.js";
import { ask } from "./live.js";
import { all, newId, nextTurn, put, remove } from "./outbox.js";
import { drawTaps, drawWaiting, freshIds, words } from "./waiting.js";

const MOST = 50;
const RETRY = 10_000;
const list = document.getElementById("outbox");
const bench = () => document.getElementById("bench");
const underWay = new Set();
const sent = new Map();
let away = document.documentElement.dataset.kept === "yes";
// Of a page that the server has just drawn nobody knows yet which of what waits it has in it already: what waits is
// drawn on the work once the server has said so, or does not answer. It stands in the list meanwhile.
let known = away;
let signedIn = true;
let flushing = false;
let onceMore = false;
let worker = null;
let notice = "";

htmx.config.timeout = 10_000;

// Of the forms on the page of somebody's hours only the one that writes some down, once its work is chosen.
const isTap = (form) => form.matches?.("#bench form[hx-post]") && form.elements.client_id && form.method === "post"
  && (!form.dataset.verb || form.elements.operation.value);

// The verb and the key stand in the address of every tap: /bench/<station>/<key>/<verb>/; hours are of a chosen work.
const write = async (form, button) => {
  const fields = Object.fromEntries(new FormData(form, button || undefined));
  const chosen = form.dataset.verb ? form.elements.operation : null;
  const [pk, verb] = chosen ? [chosen.value, form.dataset.verb] : new URL(form.action).pathname.split("/").slice(-3);
  const id = fields.client_id;
  delete fields.client_id;
  delete fields.csrfmiddlewaretoken;
  const file = fields.file?.size ? fields.file : null;
  delete fields.file;
  delete fields.panel;  // Where the page stood; nothing that was said.
  const { who, person, name } = bench().dataset;
  const holder = form.closest("[data-operation]");
  const tap = {
    id, verb, pk: Number(pk), fields, file, who, person, name, turn: await nextTurn(), reading: reading(), sentence: "",
    what: holder?.dataset.what || chosen?.selectedOptions[0].text || "", page: chosen ? bench().dataset.address : "", operation: holder?.dataset.operation || "", label: (button || form.querySelector("button")).innerText.trim(),
  };
  await put(tap);
  if (form.dataset.replaces) await remove(form.dataset.replaces);
  delete form.dataset.replaces;
  return tap;
};

const show = async () => {
  const taps = (await all()).filter((tap) => !underWay.has(tap.id));
  drawWaiting(list, taps, { away, signedIn, notice: away ? notice : "" });
  drawTaps(bench(), known || away ? taps.filter((tap) => !tap.sentence) : []);
  return taps;
};

const waiting = async () => (await all()).filter((tap) => !underWay.has(tap.id) && !tap.sentence);

// A tap is written down first. Then it goes its usual way; behind others that wait it waits as they do.
document.addEventListener("htmx:confirm", async (event) => {
  const form = event.target;
  if (away && form.dataset?.verb && !isTap(form)) {
    event.preventDefault();
    form.reportValidity();
  }
  if (!isTap(form)) return;
  event.preventDefault();
  if (form.dataset.writing) return;
  form.dataset.writing = "yes";
  try {
    const tap = await write(form, event.detail.triggeringEvent?.submitter);
    if (away || (await waiting()).some((other) => other.id !== tap.id)) {
      form.elements.client_id.value = newId();
      await kept(form);
      send();
    } else {
      underWay.add(tap.id);
      sent.set(form, tap);
      event.detail.issueRequest(true);
    }
  } catch {
    event.detail.issueRequest(true);  // A browser that keeps nothing still sends.
  } finally {
    delete form.dataset.writing;
  }
});

const kept = async (form) => {
  form.reset();
  form.closest("details")?.removeAttribute("open");
  // The work can go on once it is said when the timer that was left on stopped.
  if (form.closest(".question")) await turnTo(bench().dataset.person);
  await show();
  bench().classList.add("just-changed");
  setTimeout(() => bench()?.classList.remove("just-changed"), 700);
};

document.addEventListener("htmx:beforeSwap", (event) => {
  const { xhr } = event.detail;
  if (event.detail.target?.id === "bench" && new URL(xhr.responseURL || location.href).pathname.startsWith("/sign-in/")) {
    event.detail.shouldSwap = false;
    signedIn = false;
    show();
  }
});

document.addEventListener("htmx:afterRequest", async (event) => {
  const { xhr, requestConfig } = event.detail;
  heard(Number(xhr.getResponseHeader?.("X-Studio-Time")), 0);
  const form = requestConfig.elt;
  const tap = sent.get(form);
  if (!tap) {
    if (xhr.status === 0 && requestConfig.verb === "post") away = true;
    if (away && requestConfig.verb === "post") personAway(form, requestConfig.triggeringEvent?.submitter);
    return;
  }
  sent.delete(form);
  const answered = (xhr.status >= 200 && xhr.status < 300) || xhr.status === 422 || xhr.status === 404;
  if (answered && signedIn) {
    await remove(tap.id);
    underWay.delete(tap.id);
  } else {
    underWay.delete(tap.id);
    away = xhr.status === 0 || xhr.status >= 500;
    form.elements.client_id.value = newId();
    await kept(form);
    send();  // It may have been this one request only.
  }
});

// Somebody else comes to the tablet while the line is away: pages that it has shown before can be shown again.
const personAway = async (form, button) => {
  const person = form.action.endsWith("/leave/") ? "names" : button?.value;
  if (!person || !self.caches || !/\/(leave|person)\/$/.test(form.action)) return;
  notice = !button?.dataset.pin && await turnTo(person) ? "" : "unknown";
  await show();
};

// Whether the page of this person was kept, and is shown now.
const turnTo = async (person) => {
  const found = await self.caches?.match(`${bench().dataset.station}?kept=${person}`, { ignoreVary: true });
  if (!found) return false;
  const page = new DOMParser().parseFromString(await found.text(), "text/html").getElementById("bench");
  freshIds(page);
  bench().replaceWith(document.adoptNode(page));
  htmx.process(bench());
  return true;
};

// What goes the browser's own way needs the line; without it the page says so, and stays.
document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!away || !form.matches("#bench form:not([hx-post]), form.language")) return;
  event.preventDefault();
  await sayNeedsLine();
}, { capture: true });

// So do links to what is not kept: papers and photos, which are looked at by who may see them then.
document.addEventListener("click", async (event) => {
  const link = event.target.closest("#bench a[href]");
  if (!away || !link || (link.pathname.startsWith("/bench/") && !link.pathname.includes("/sheet/"))) return;
  event.preventDefault();
  await sayNeedsLine();
});

const sayNeedsLine = async () => {
  notice = "needs-line";
  await show();
  list.scrollIntoView({ block: "nearest" });
};

// Hours that were refused are typed again: the form as it was, until it is sent anew.
const typeAgain = async () => {
  const id = location.hash.startsWith("#again=") && location.hash.slice(7);
  const form = document.querySelector("#bench form[data-verb]");
  const tap = id && form && (await all()).find((one) => one.id === id);
  if (!tap) return;
  for (const [name, value] of Object.entries(tap.fields)) if (form.elements[name]) form.elements[name].value = value;
  form.dataset.replaces = id;
  history.replaceState(null, "", location.pathname + location.search);
  form.elements.operation.focus();
};

// A tap that is no form: several pieces on a drawing, say. It is written down, and sent behind those that wait.
let turns = Promise.resolve();
export const keepTap = (asked) => {
  const { who, person, name } = bench().dataset;
  const tap = { id: newId(), who, person, name, reading: reading(), sentence: "", ...asked };
  // One after the other, so that no two get the same turn.
  turns = turns.catch(() => {}).then(async () => put({ ...tap, turn: await nextTurn() }));
  return turns.then(() => { if (away) show(); send(); });
};

const send = async () => {
  if (flushing) { onceMore = true; return; }
  if (!(await waiting()).length) { known = true; return; }
  flushing = true;
  let some = false;
  try {
    const began = performance.now();
    const { outbox } = list.dataset;
    const answer = await fetch(outbox, { cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(RETRY) });
    signedIn = answer.type !== "opaqueredirect" && answer.status !== 403;
    if (!answer.ok) return;
    const sync = heard(Number(answer.headers.get("X-Studio-Time")), performance.now() - began);
    const { token } = await answer.json();
    some = await replay(outbox, token, sync);
    away = false;
  } catch {
    away = true;
  } finally {
    flushing = false;
    known = true;
    await show();
  }
  if (some) renew();
  if (onceMore) { onceMore = false; if (!away) send(); }
};

// Whether anything was answered for good. What has to come again stays at the head of the list.
const replay = async (outbox, token, sync) => {
  let some = false;
  for (;;) {
    const taps = await waiting();
    if (!taps.length) return some;
    // A photo goes by itself, beside the tap that it was taken with.
    const photo = taps.findIndex((tap) => tap.file);
    const batch = taps.slice(0, photo < 0 ? MOST : Math.min(MOST, Math.max(1, photo)));
    const items = batch.map(({ id, verb, pk, who, fields, reading: tap }) => ({ id, verb, pk, who, fields, at: happened(tap, sync) }));
    const headers = { "X-CSRFToken": token };
    let body = JSON.stringify({ items });
    if (batch[0].file) body = withFile(body, batch[0].file);
    else headers["Content-Type"] = "application/json";
    const answer = await fetch(outbox, { method: "POST", headers, body, redirect: "manual" });
    if (answer.status === 400 && batch.length === 1) {
      // It can never be sent, and may not keep back those behind it.
      await put({ ...batch[0], sentence: words("unsent") });
      continue;
    }
    if (!answer.ok) return some;
    for (const [place, result] of (await answer.json()).results.entries()) {
      if (result.state === "again") return some;
      some = true;
      if (result.state === "done") await remove(batch[place].id);
      else await put({ ...batch[place], sentence: result.sentence });
      document.dispatchEvent(new CustomEvent("studio:sent", { detail: result }));
    }
  }
};

const withFile = (batch, file) => {
  const form = new FormData();
  form.set("batch", batch);
  form.set("file", file);
  return form;
};

const renew = () => document.dispatchEvent(new CustomEvent("studio:changed", { cancelable: true, detail: {} }));

document.addEventListener("studio:line", async ({ detail }) => {
  const before = [away, signedIn].join();
  away = !detail.here;
  if (detail.here) {
    signedIn = detail.signedIn;
    heard(detail.time, detail.took);
    send();
  }
  if (before !== [away, signedIn].join()) await show();
});

// What was refused stays until its person has answered.
list.addEventListener("click", async (event) => {
  const button = event.target.closest("button[data-answer]");
  if (!button) return;
  const tap = (await all()).find((one) => one.id === button.value);
  if (tap && button.dataset.answer === "again") await put({ ...tap, sentence: "" });
  else await remove(button.value);
  await show();
  send();
  list.querySelector("button")?.focus();
});

// The page of somebody’s hours is kept by the person; while it is open the station’s own is what is kept here.
const here = () => (bench().matches(".bench-hours") ? bench().dataset.station : location.pathname);

// The page as the server last showed it is what this tablet opens with while the line is away.
const keep = () => {
  const person = bench().dataset.person || "names";
  if (!document.querySelector("#bench:is(.bench-work, .bench-names, .bench-drawing):not([data-scanned])")) return;
  const copy = document.documentElement.cloneNode(true);
  copy.querySelector("#bench").classList.remove("just-changed");
  copy.removeAttribute("data-kept");
  copy.querySelector("#messages")?.replaceChildren();
  // What is on its way just now is not on its way in the page that opens later.
  for (const button of copy.querySelectorAll("#bench [disabled]")) button.removeAttribute("disabled");
  drawTaps(copy.querySelector("#bench"), []);
  const html = `<!doctype html>${copy.outerHTML}`;
  worker?.postMessage({ page: { address: `${here()}?kept=${person}`, html } });
};

// The page of a person's own hours is kept beside their work, so that hours can be written down without the line.
const HOURS_EVERY = 300_000;
const hoursKept = new Map();
const keepHours = async () => {
  const link = bench().querySelector("a[data-hours]");
  if (!link || away || Date.now() - (hoursKept.get(link.href) || 0) < HOURS_EVERY) return;
  hoursKept.set(link.href, Date.now());
  const answer = await fetch(link.href, { headers: { "X-Renews": "yes" }, redirect: "manual" }).catch(() => null);
  if (answer?.ok) await (await caches.open("bench-pages")).put(link.href, answer);
  else hoursKept.delete(link.href);
};

document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target?.id !== "bench") return;
  if (flushing) known = false;
  keep();
  if (worker) keepHours();
  keepDrawings().catch(() => {});
  show();
});

const keepFiles = async () => {
  if (!navigator.serviceWorker) return;
  // Pages that were kept in another language are not shown any more.
  const { lang } = document.documentElement;
  const before = localStorage.getItem("bench-language");
  if (before && before !== lang) await caches.delete("bench-pages");
  localStorage.setItem("bench-language", lang);
  await navigator.serviceWorker.register(list.dataset.worker, { scope: "/bench/" });
  worker = (await navigator.serviceWorker.ready).active;
  const files = performance.getEntriesByType("resource").map((entry) => entry.name);
  worker.postMessage({ files: [...files, ...[...document.querySelectorAll("link[href]")].map((link) => link.href)] });
  // The very first page came before there was anybody to keep it.
  const answer = await fetch(here(), { headers: { "X-Renews": "yes" }, redirect: "manual" });
  if (!answer.ok) throw new Error(`the server said ${answer.status}`);
  await (await caches.open("bench-pages")).put(here(), answer);
  keep();
  await keepHours();
  await keepDrawings();
};

// The drawings of the work at hand open with the line away too, also where nobody has looked at them yet.
const keepDrawings = async () => {
  if (!self.caches) return;
  const cache = await caches.open("bench-pages");
  for (const { pathname } of document.querySelectorAll("#bench a[data-keeps]")) {
    if (await cache.match(pathname, { ignoreVary: true })) continue;
    const answer = await fetch(pathname, { headers: { "X-Renews": "yes" }, redirect: "manual" });
    if (answer.ok) await cache.put(pathname, answer);
  }
};

let drawn = null;
document.addEventListener("studio:drawn", () => {
  // A copy of a large drawing is not made after each tap.
  clearTimeout(drawn);
  drawn = setTimeout(keep, 1_500);
});

freshIds(document);
show().then(typeAgain).then(send);
addEventListener("hashchange", typeAgain);
// Soon again at first, and then as often as everything else.
const keepOn = (pause = 500) => keepFiles().catch((error) => {
  console.warn("This tablet keeps no pages yet:", error.message);
  setTimeout(() => keepOn(Math.min(2 * pause, RETRY)), pause);
});
keepOn();
setInterval(async () => { if ((await waiting()).length) ask(); }, RETRY);
