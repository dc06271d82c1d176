// A scanner that types: an address from one of our papers, ended by Enter or Tab, opens here.
//
// Outside of fields nobody types on these pages, so any speed will do. Into a field a scanner types faster than a
// person can: what it has typed there is taken out again. Whatever it reads, its Enter presses no button.
import { changed, fieldsOf } from "./fields.js";

// Milliseconds between two keys, and the fewest keys of a code: from memory, no published source.
const FAST = 60, FORGET = 2_000, LEAST = 6;
const PATIENCE = 4_000;
const CODE = /https?:\/\/[^\s/]+(\/s\/\d+\/(?:[-\w]+\/)?)$/i;
let typed = "", last = 0, place = null, before = "", fast = true;

const fieldAt = (target) => target.closest?.("input:not([type=checkbox], [type=radio], [type=submit], [type=button]), textarea, select") || null;

const begin = (field) => {
  typed = "";
  fast = true;
  place = field;
  before = field?.value ?? "";
};

const words = (name) => document.getElementById("scanner-words").content.querySelector(`[data-word="${name}"]`).textContent;

const say = (sentence, address) => {
  const line = document.createElement("p");
  line.className = "message message-warning";
  line.append(sentence);
  if (address) {
    const link = document.createElement("a");
    Object.assign(link, { href: address, className: "button", textContent: words("open") });
    line.append(" ", link);
  }
  document.getElementById("messages")?.replaceChildren(line);
};

// Whatever host the code was printed for, it is opened here: a code never leads away from the studio.
const open = async (address) => {
  try {
    const answer = await fetch(address, { method: "HEAD", redirect: "manual", cache: "no-store", signal: AbortSignal.timeout(PATIENCE) });
    if (answer.status === 404) { say(words("gone")); return; }
    if (answer.status >= 500) throw new Error(`The server answered ${answer.status}`);
  } catch {
    say(words("away"));
    return;
  }
  // A PIN that is half typed is nobody's loss.
  if (fieldsOf(document.getElementById("main")).some((field) => field.type !== "password" && changed(field))) {
    say(words("lost"), address);
    return;
  }
  location.assign(address);
};

const ended = (event) => {
  const found = CODE.exec(typed);
  // What is no code of ours may be meant for the field it was read into.
  if (!found && (place || !fast || typed.length < LEAST)) { begin(place); return; }
  event.preventDefault();
  event.stopImmediatePropagation();
  if (place) place.value = before;
  begin(place);
  if (found) open(found[1]);
  else say(words("strange"));
};

document.addEventListener("keydown", (event) => {
  const field = fieldAt(event.target);
  if (event.ctrlKey || event.altKey || event.metaKey) { begin(field); return; }
  const letter = event.key.length === 1;
  if (!letter && event.key !== "Enter" && event.key !== "Tab") return;
  const gap = event.timeStamp - last;
  last = event.timeStamp;
  if (field !== place || gap > (field ? FAST : FORGET)) begin(field);
  else if (typed && gap > FAST) fast = false;
  if (!letter) { ended(event); return; }
  // A space within a code would press the button that was tapped last.
  if (!field && event.key === " " && typed && fast) event.preventDefault();
  typed += event.key;
}, true);
