// Screens stay true: every two seconds (`data-every`) one short question, and only what has changed is fetched.
//
// A page that can renew itself listens for `studio:changed`. Where it may not just now, because somebody types, it
// calls preventDefault: then a mark says that something has changed, and it is asked again until it may.
// One that asked for the change and may not show it when it comes, since somebody has begun meanwhile, calls `later`.
// `studio:line` tells whether the studio's computer answered, and what time it is there.
import { changed, fieldsOf } from "./fields.js";

const PATIENCE = 6_000;
const { pulse, every } = document.querySelector("[data-pulse]")?.dataset || {};
let known = null;
let waits = false;
let asking = false;
let pressed = false;

document.addEventListener("pointerdown", () => { pressed = true; }, { passive: true, capture: true });
for (const kind of ["pointerup", "pointercancel", "click"]) {
  document.addEventListener(kind, () => { pressed = false; }, { passive: true, capture: true });
}

// Whether somebody types within `part`, has typed and not sent it, or has a finger on it.
export const inUse = (part) => pressed
  || Boolean(part.querySelector(":is(input, select, textarea):focus"))
  || fieldsOf(part).some(changed);

const mark = () => document.getElementById("changed");

const tell = (force) => {
  const event = new CustomEvent("studio:changed", { cancelable: true, detail: { force } });
  waits = !document.dispatchEvent(event);
  if (mark()) mark().hidden = !waits;
};

export const later = () => {
  waits = true;
  if (mark()) mark().hidden = false;
};

const line = (answer) => document.dispatchEvent(new CustomEvent("studio:line", { detail: answer }));

export const ask = async () => {
  if (asking || document.hidden) return;
  asking = true;
  const sent = performance.now();
  try {
    const headers = known ? { "If-None-Match": known } : {};
    const answer = await fetch(pulse, { headers, cache: "no-store", redirect: "manual", signal: AbortSignal.timeout(PATIENCE) });
    if (answer.status >= 500) throw new Error(`The server answered ${answer.status}`);
    line({ here: true, signedIn: answer.type !== "opaqueredirect", time: Number(answer.headers.get("X-Studio-Time")), took: performance.now() - sent });
    const now = answer.headers.get("ETag");
    const news = answer.ok && known !== null && now !== known;
    if (answer.ok) known = now;
    if (news || waits) tell(false);
  } catch {
    line({ here: false });
  } finally {
    asking = false;
  }
};

if (pulse) {
  document.addEventListener("click", (event) => { if (event.target.closest("#changed button")) tell(true); });
  document.addEventListener("visibilitychange", ask);
  addEventListener("online", ask);
  setInterval(ask, Number(every));
  ask();
}
