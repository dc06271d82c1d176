// The drawing of a panel at the bench: a finger or a key marks its pieces, two fingers move it and make it larger.
//
// What is marked is written down on the tablet first, as any tap is (offline.js): a tap or a stroke over several pieces
// is one of its items. The drawing shows what the studio's computer last said with what waits to be sent laid over it,
// so that it is right with the line away, and another tablet's marks come in under the finger without disturbing it.
import { keepTap } from "./offline.js";
import { all, newId } from "./outbox.js";
import { view } from "./stage.js";

const LONGEST = 1900;
const root = document.getElementById("pieces");
const form = document.getElementById("pieces-form");
const stage = document.getElementById("stage");
const words = (name) => document.getElementById("pieces-words").content.querySelector(`[data-word="${name}"]`).textContent;
const here = () => root.isConnected;
const { pk, pattern, copy, what } = root.dataset;

const pieces = new Map();
for (const line of form.querySelectorAll(".piece-line")) {
  pieces.set(line.dataset.n, { line, box: line.querySelector("input"), state: line.querySelector(".piece-state") });
}
for (const drawn of stage.querySelectorAll(".pc[role]")) {
  const piece = pieces.get(drawn.dataset.n);
  const [number, sign] = drawn.querySelectorAll("text");
  Object.assign(piece, { drawn, sign, at: { x: Number(number.getAttribute("x")), y: Number(number.getAttribute("y")) } });
}

let marks = JSON.parse(document.getElementById("pieces-marks").textContent);
// What was tapped and is not yet in `marks`, in its order: {id, level, done, numbers}; `putting`: not written down yet.
let over = [];
let stroke = null;
let shown = new Map();
const last = () => marks.words.length - 1;
const stepInput = () => document.querySelector("input[name=step]:checked");
const step = () => stepInput()?.value || "";
const steps = [...document.querySelectorAll("input[name=step]")].map((input) => input.value);
const stepLevel = (name = step()) => Math.max(steps.indexOf(name), 0) + 1;
const finger = () => document.querySelector("input[name=finger]:checked")?.value || "move";

// How many steps of a piece are done, with what waits laid over what was said.
const levelOf = (number) => {
  let level = marks.levels[number] || 0;
  for (const tap of stroke?.kind === "mark" ? [...over, stroke] : over) {
    if (tap.numbers.has(number)) level = tap.done ? Math.max(level, tap.level) : Math.min(level, tap.level - 1);
  }
  return level;
};

const partOf = (level) => {
  if (level >= last()) return "5";
  return level ? String(Math.ceil(level * 4 / last())) : "0";
};

// One piece as it stands; nothing is written that is so already.
const draw = (number) => {
  const piece = pieces.get(number);
  if (!piece?.drawn) return;
  const level = levelOf(number);
  let [part, say, sign] = [partOf(level), marks.words[level], marks.signs[level]];
  if (marks.broken[number]) [part, say, sign] = ["broken", marks.broken[number], "✕"];
  else if (marks.elsewhere[number]) [part, say, sign] = ["elsewhere", marks.elsewhere[number], "·"];
  const chosen = finger() === "broke" && piece.box?.checked;
  const is = finger() === "broke" ? chosen : level >= stepLevel();
  const now = [part, say, is, chosen].join();
  if (shown.get(number) === now) return;
  shown.set(number, now);
  const { drawn } = piece;
  drawn.dataset.part = part;
  drawn.toggleAttribute("data-chosen", Boolean(chosen));
  // Under a finger only what is painted changes: words are laid out once, when it is lifted.
  if (stroke) { shown.delete(number); return; }
  drawn.setAttribute("aria-checked", String(Boolean(is)));
  drawn.setAttribute("aria-label", `${drawn.dataset.name}, ${say}`);
  piece.sign.textContent = sign;
  piece.state.textContent = say;
};

const drawAll = () => { for (const number of pieces.keys()) draw(number); };

const canBe = (number) => !marks.closed && pieces.get(number)?.drawn && !marks.broken[number] && !marks.elsewhere[number];

// Numbers as text, runs of them as 3-7, in as many texts as are short enough.
const asTexts = (numbers) => {
  const sorted = [...numbers].map(Number).sort((one, two) => one - two);
  const runs = [];
  for (const number of sorted) {
    const run = runs.at(-1);
    if (run && number === run[1] + 1) run[1] = number;
    else runs.push([number, number]);
  }
  const texts = [""];
  for (const [from, to] of runs) {
    const text = from === to ? String(from) : `${from}-${to}`;
    if (texts.at(-1).length + text.length > LONGEST) texts.push("");
    texts[texts.length - 1] += (texts.at(-1) ? "," : "") + text;
  }
  return texts;
};

const labelOf = (label) => (document.querySelector(".pieces-copies") ? `${words("copy")} ${copy}, ${label}` : label);

const keep = async (verb, text, more, label, id = newId()) => {
  const fields = { pattern, copy, pieces: text, ...more };
  try {
    await keepTap({ id, verb, pk: Number(pk), fields, label: labelOf(label), what, operation: pk });
  } catch {
    // A browser that keeps nothing still sends.
    const body = new FormData(form);
    body.delete("piece");
    for (const [name, value] of Object.entries({ ...fields, client_id: id })) body.set(name, value);
    await fetch(verb === "mark" ? form.action : document.getElementById("pieces-broke").formAction, { method: "POST", body });
    load();
  }
};

const mark = async (numbers, done) => {
  const able = [...numbers].filter((number) => canBe(number));
  const chosen = step();
  const taps = able.length ? asTexts(able).map((text) => ({
    id: newId(), text, numbers: new Set(numbersOf(text)), done, level: stepLevel(chosen), putting: true,
  })) : [];
  over.push(...taps);
  able.forEach(draw);
  for (const tap of taps) {
    const label = [chosen, words(done ? "done" : "not")].filter(Boolean).join(" ");
    await keep("mark", tap.text, { step: chosen, done: done ? "yes" : "no" }, label, tap.id);
    tap.putting = false;
  }
};

// What waits in the tablet's list for this drawing.
const readWaiting = async () => {
  const ours = (tap) => tap.verb === "mark" && String(tap.pk) === pk && tap.fields.pattern === pattern && tap.fields.copy === copy;
  return (await all()).filter((tap) => ours(tap) && !tap.sentence).map((tap) => ({
    id: tap.id, numbers: new Set(numbersOf(tap.fields.pieces)), done: tap.fields.done === "yes", level: stepLevel(tap.fields.step),
  }));
};

const numbersOf = (text) => text.split(",").flatMap((run) => {
  const [from, to = from] = run.split("-").map(Number);
  return Array.from({ length: to - from + 1 }, (_, place) => String(from + place));
});

let loading = false;
let again = false;
// What the studio's computer says now. What waited when it was asked, or was tapped since, stays laid over it; what did
// not is in the answer, or was refused.
const load = async () => {
  if (loading) { again = true; return; }
  loading = true;
  try {
    do {
      again = false;
      const before = new Set(over.filter((tap) => !tap.putting));
      const waits = new Set((await readWaiting()).map((tap) => tap.id));
      const answer = await fetch(root.dataset.marks, { headers: { "X-Renews": "yes" }, redirect: "manual", cache: "no-store" });
      if (!here()) return;
      if (answer.status === 404) { location.reload(); return; }
      if (!answer.ok) return;
      marks = await answer.json();
      over = over.filter((tap) => !before.has(tap) || waits.has(tap.id));
      show();
    } while (again);
  } catch {
    // The line is away: what waits is laid over what was said last.
  } finally {
    loading = false;
  }
};

const show = () => {
  const head = document.getElementById("pieces-head");
  if (marks.head) head.innerHTML = marks.head;
  for (const [place, count] of document.querySelectorAll(".step-done").entries()) count.textContent = marks.done[place];
  // What this tablet keeps of the page begins with this the next time.
  document.getElementById("pieces-marks").textContent = JSON.stringify({ ...marks, head: undefined });
  drawAll();
  document.dispatchEvent(new CustomEvent("studio:drawn"));
};

document.addEventListener("studio:changed", () => { if (here()) load(); });
document.addEventListener("studio:sent", ({ detail }) => {
  if (!here() || !detail.sentence) return;
  document.getElementById("pieces-said").textContent = detail.sentence;
  if (detail.state === "done") document.getElementById("messages")?.replaceChildren(Object.assign(document.createElement("p"), { className: "message message-success", textContent: detail.sentence }));
});

// Chosen pieces: those that broke, or those that are ticked in the list.
const chosenOf = () => [...pieces.entries()].filter(([, piece]) => piece.box?.checked).map(([number]) => number);
const tellChosen = () => {
  const { length } = chosenOf();
  document.getElementById("pieces-chosen").textContent = length ? `${length} ${words(length === 1 ? "one" : "many")}` : "";
};
const choose = (number, on) => {
  const { box } = pieces.get(number);
  if (box && canBe(number)) box.checked = on;
  draw(number);
};
const clear = () => {
  for (const piece of pieces.values()) if (piece.box) piece.box.checked = false;
  drawAll();
  tellChosen();
};

form.addEventListener("change", (event) => {
  if (event.target.name !== "piece") return;
  draw(event.target.value);
  tellChosen();
});

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const numbers = chosenOf();
  const broke = event.submitter?.id === "pieces-broke";
  if (!numbers.length) {
    document.getElementById("pieces-chosen").textContent = words("nothing");
    return;
  }
  if (!broke) {
    clear();
    await mark(numbers, event.submitter?.value !== "no");
    return;
  }
  const note = form.elements.note.value;
  clear();
  form.elements.note.value = "";
  form.querySelector(".pieces-broke").open = false;
  for (const text of asTexts(numbers)) await keep("broke", text, { note }, words("broke"));
});

// Which piece is at a place of the drawing: reckoned here, since to ask the browser costs it a look at every piece.
const outlines = [...stage.querySelectorAll(".pc")].reverse().map((drawn) => {
  const points = drawn.querySelector("polygon").getAttribute("points").split(" ").map((point) => point.split(",").map(Number));
  const [xs, ys] = [0, 1].map((axis) => points.map((point) => point[axis]));
  return { number: drawn.matches("[role]") ? drawn.dataset.n : null, points, left: Math.min(...xs), right: Math.max(...xs), top: Math.min(...ys), bottom: Math.max(...ys) };
});
const isIn = (points, x, y) => {
  let inside = false;
  for (let n = 0, m = points.length - 1; n < points.length; m = n, n += 1) {
    const [[ax, ay], [bx, by]] = [points[n], points[m]];
    if ((ay > y) !== (by > y) && x < (bx - ax) * (y - ay) / (by - ay) + ax) inside = !inside;
  }
  return inside;
};
// What lies in the hole of another comes after it in the drawing, and so first here.
const pieceAt = (x, y) => outlines.find((one) => x >= one.left && x <= one.right && y >= one.top && y <= one.bottom && isIn(one.points, x, y))?.number;

// Strokes: the first piece says whether they are marked or taken back; two fingers make no stroke.
const begin = () => {
  stroke = { kind: finger(), numbers: new Set(), done: null, level: stepLevel() };
};
const passOver = (x, y) => {
  const number = pieceAt(x, y);
  if (!number || stroke.numbers.has(number) || !canBe(number)) return;
  if (stroke.done === null) stroke.done = stroke.kind === "broke" ? !pieces.get(number).box.checked : levelOf(number) < stroke.level;
  stroke.numbers.add(number);
  if (stroke.kind === "broke") choose(number, stroke.done);
  else draw(number);
};
const cancel = () => {
  const { numbers, kind, done } = stroke;
  stroke = null;
  for (const number of numbers) {
    if (kind === "broke") choose(number, !done);
    else draw(number);
  }
};
const end = () => {
  const { numbers, kind, done } = stroke;
  stroke = null;
  if (numbers.size) focusOn([...numbers].at(-1));
  if (kind === "mark") mark(numbers, done);
  numbers.forEach(draw);
  if (kind === "broke") tellChosen();
};

const eye = view(stage, {
  marks: () => finger() !== "move" && !marks.closed,
  begin, over: passOver, end, cancel,
});

// Keys: one piece of the drawing is in the order of tabs at a time.
let current = null;
const focusOn = (number) => {
  if (current) pieces.get(current).drawn.setAttribute("tabindex", "-1");
  current = number;
  pieces.get(number).drawn.setAttribute("tabindex", "0");
};
const toggle = (number) => {
  if (!canBe(number)) return;
  if (finger() === "broke") { choose(number, !pieces.get(number).box.checked); tellChosen(); } else mark([number], levelOf(number) < stepLevel());
};
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

// The nearest piece in a direction; what lies aside counts as farther.
const next = (from, [dx, dy]) => {
  const { at } = pieces.get(from);
  let best = null;
  let nearest = Infinity;
  for (const [number, piece] of pieces) {
    if (!piece.drawn || number === from) continue;
    const along = (piece.at.x - at.x) * dx + (piece.at.y - at.y) * dy;
    const aside = Math.abs((piece.at.x - at.x) * dy) + Math.abs((piece.at.y - at.y) * dx);
    const far = along + 2 * aside;
    if (along > 0.5 && aside <= 2 * along && far < nearest) [best, nearest] = [number, far];
  }
  return best;
};

stage.addEventListener("keydown", (event) => {
  const on = event.target.closest(".pc[role]")?.dataset.n;
  const way = ARROWS[event.key];
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (way && event.shiftKey) eye.pan(way);
  else if (way && on) go(next(on, way));
  else if (event.key === "Home" || event.key === "End") go([...pieces.keys()].at(event.key === "Home" ? 0 : -1));
  else if (event.key === "+" || event.key === "=") eye.zoom(1.4);
  else if (event.key === "-") eye.zoom(1 / 1.4);
  else if (event.key === "0") eye.whole();
  else if ((event.key === "Enter" || event.key === " ") && on) toggle(on);
  else return;
  event.preventDefault();
});
const go = (number) => {
  if (!number || !pieces.get(number)?.drawn) return;
  focusOn(number);
  pieces.get(number).drawn.focus({ preventScroll: true });
  eye.reveal(pieces.get(number).at);
};

const tools = document.querySelector(".pieces-tools");
tools.hidden = false;
tools.addEventListener("click", (event) => {
  const zoom = event.target.closest("[data-zoom]")?.dataset.zoom;
  if (zoom === "whole") eye.whole();
  else if (zoom) eye.zoom(zoom === "in" ? 1.6 : 1 / 1.6);
});
document.addEventListener("change", (event) => {
  if (!["step", "finger"].includes(event.target.name) || !here()) return;
  stage.dataset.finger = finger();
  if (event.target.name === "finger") clear();
  const details = form.querySelector(".pieces-broke");
  if (details && event.target.name === "finger") details.open = finger() === "broke";
  drawAll();
});

const first = [...pieces.keys()].find((number) => pieces.get(number).drawn);
if (first) focusOn(first);
drawAll();
readWaiting().then((waiting) => { over = [...waiting, ...over]; drawAll(); });
