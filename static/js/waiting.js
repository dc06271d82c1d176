// How what waits to be sent is shown: as a list, and on the work itself as it will be once it is sent.
import { newId } from "./outbox.js";

export const words = (list) => document.getElementById("outbox-words").content.querySelector(`[data-word="${list}"]`).textContent;
const clock = (time) => new Intl.DateTimeFormat(document.documentElement.lang || "en", { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: document.getElementById("outbox").dataset.zone }).format(time);
const make = (tag, text, of = {}) => Object.assign(document.createElement(tag), { textContent: text, ...of });

export const freshIds = (part) => {
  for (const field of part.querySelectorAll("[name=client_id]")) field.value = newId();
};

export const drawWaiting = (list, taps, { away, signedIn, notice = "" }) => {
  const refused = taps.filter((tap) => tap.sentence);
  const waits = taps.length - refused.length;
  let state = "";
  if (!signedIn) state = words("sign-in");
  else if (notice) state = words(notice);
  else if (away) state = words("away");
  const drawn = JSON.stringify([state, taps.map((tap) => [tap.id, tap.sentence])]);
  if (list.dataset.drawn === drawn) return;
  list.dataset.drawn = drawn;
  list.hidden = !taps.length && !state;
  list.querySelector(".outbox-state").textContent = state;
  list.querySelector(".outbox-sign-in").hidden = signedIn;
  list.querySelector(".outbox-count").textContent = waits ? `${waits} ${words(waits === 1 ? "one" : "many")}` : "";
  list.querySelector(".outbox-waits").replaceChildren(...taps.filter((tap) => !tap.sentence).map((tap) => make("li", told(tap))));
  list.querySelector(".outbox-refused").replaceChildren(...refused.map(asked));
};

const told = (tap) => {
  const typed = Object.entries(tap.fields).filter(([name, value]) => value && !["add", "take_over", "quick", "when", "operation", "pattern", "copy", "step", "done"].includes(name));
  const more = typed.map(([, value]) => value).join(", ");
  return [`${clock(tap.reading.shown)} ${tap.name}:`, tap.label.replace(/\s+/g, " "), [tap.what, more].filter(Boolean).join(", ")].join(" ");
};

const asked = (tap) => {
  const row = make("li", told(tap));
  const why = make("p", tap.sentence, { className: "decide" });
  why.setAttribute("role", "alert");
  const buttons = ["again", "seen"].map((answer) => {
    const button = make("button", words(answer), { type: "button", value: tap.id });
    button.dataset.answer = answer;
    button.append(make("span", ` ${told(tap)}`, { className: "visually-hidden" }));
    return button;
  });
  const line = make("div", "", { className: "row" });
  if (tap.page) line.append(make("a", words("type-again"), { className: "button", href: `${tap.page}#again=${tap.id}` }));
  line.append(...buttons);
  row.append(why, line);
  return row;
};

// The state of each operation after the taps of whoever the page is for, and of what they do alongside.
const after = (taps) => {
  const states = new Map();
  for (const tap of taps.filter((one) => one.operation)) {
    const state = states.get(tap.operation) || { added: 0, total: null, now: "", time: 0, last: "" };
    states.set(tap.operation, state);
    Object.assign(state, { last: tap.label, time: tap.reading.shown });
    if (tap.verb === "start") {
      for (const other of states.values()) if (other.now === "running") other.now = "paused";
      state.now = "running";
      state.since = tap.reading.shown;
    } else if (tap.verb === "pieces" && tap.fields.total) {
      Object.assign(state, { total: Number(tap.fields.total), added: 0 });
    } else if (tap.verb === "pieces") {
      state.added += Number(tap.fields.add);
    } else {
      state.now = { pause: "paused", finish: "gone", "put-back": "gone", hold: "gone", reopen: "paused", release: "paused" }[tap.verb] || state.now;
    }
  }
  return states;
};

export const drawTaps = (bench, taps) => {
  if (!bench) return;
  for (const old of bench.querySelectorAll("[data-waiting]")) old.remove();
  for (const hidden of bench.querySelectorAll("[data-put-away]")) { hidden.hidden = false; delete hidden.dataset.putAway; }
  const question = bench.querySelector(".question");
  if (question) question.hidden = taps.some((tap) => tap.verb === "answer" && tap.person === bench.dataset.person);
  const states = after(taps.filter((tap) => tap.person === bench.dataset.person));
  const running = [...states.values()].some((state) => state.now === "running");
  for (const holder of bench.querySelectorAll("[data-operation]")) {
    const state = states.get(holder.dataset.operation);
    const stopped = running && !state?.now && holder.matches(".work-running");
    if (stopped) draw(holder, { added: 0, total: null, now: "paused", time: 0, last: "" });
    else if (state) draw(holder, state);
  }
};

const draw = (holder, state) => {
  const left = holder.querySelector(".big");
  const { quantity, done } = holder.dataset;
  const reached = (state.total ?? Number(done)) + state.added;
  if (left) {
    left.dataset.sent ||= left.textContent;
    left.textContent = String(Math.max(0, Number(quantity) - reached));
  }
  if (state.now) swapTaps(holder, state.now, Number(quantity) - reached);
  const note = make("p", "", { className: "work-waiting" });
  note.dataset.waiting = "yes";
  const parts = [];
  if (state.now === "running") parts.push(`${words("since")} ${clock(state.since)}`);
  else if (state.now === "paused") parts.push(words("paused"));
  else if (state.now === "gone") parts.push(state.last);
  if (state.added || state.total !== null) parts.push(`${reached} ${words("of")} ${quantity} ${words(quantity === "1" ? "piece" : "pieces")}`);
  if (!parts.length) parts.push(state.last);
  note.textContent = `${parts.join(", ")} · ${words("not-sent")}`;
  (holder.querySelector(".work-title, .line-words") || holder).append(note);
};

const swapTaps = (holder, now, left) => {
  const put = holder.querySelector(".work-taps") || holder;
  for (const tap of put.querySelectorAll(":scope > form.tap")) { tap.hidden = true; tap.dataset.putAway = "yes"; }
  const box = make("div", "", { className: "row taps-waiting" });
  box.dataset.waiting = "yes";
  for (const form of document.getElementById("outbox-taps").content.querySelectorAll(`[data-when~="${now}"]`)) {
    if (form.dataset.least && !(left >= Number(form.dataset.least) && holder.dataset.quantity > 0)) continue;
    const tap = document.importNode(form, true);
    tap.action = tap.getAttribute("action").replace("/0/", `/${holder.dataset.operation}/`);
    tap.setAttribute("hx-post", tap.action);
    box.append(tap);
  }
  put.append(box);
  freshIds(box);
  htmx.process(box);
};
