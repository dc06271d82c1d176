// When a tap happened by the studio's clock, whatever the tablet's own says.
//
// `anchor`: the last time the studio's computer answered: its time, and the tablet's two clocks then. The clock on the
// wall can be set and be wrong by hours; the page's own runs evenly, but begins anew with each page and may stand
// still while the tablet sleeps. Once the line is back a second such measurement tells which of them to believe.
const KEY = "studio-clock";
const SLACK = 5_000;
const page = String(Math.random()).slice(2);

const clocks = () => ({ wall: Date.now(), even: performance.now(), page });

let anchor = null;
try { anchor = JSON.parse(localStorage.getItem(KEY)); } catch { anchor = null; }

// The studio's computer answered after `took` milliseconds that it is `time`; it was so half of that ago.
export const heard = (time, took) => {
  if (!time) return anchor;
  anchor = { time: time + took / 2, ...clocks() };
  try { localStorage.setItem(KEY, JSON.stringify(anchor)); } catch { /* It is measured again with the next answer. */ }
  return anchor;
};

// What a tap keeps of the clocks, and its time as far as it is known now.
export const reading = () => {
  const now = { ...clocks(), anchor };
  return { ...now, shown: anchor ? anchor.time + now.wall - anchor.wall : now.wall };
};

// The time of a tap by the studio's clock, in whole milliseconds; `sync` is an anchor measured after it.
export const happened = (tap, sync) => {
  const from = tap.anchor;
  const span = (first, last, clock) => last[clock] - first[clock];
  const steady = (clock) => Math.abs(span(from, sync, clock) - span(from, sync, "time")) <= SLACK;
  let at;
  if (from && steady("wall")) at = from.time + span(from, tap, "wall");
  else if (from && from.page === tap.page && (tap.page !== sync.page || steady("even"))) at = from.time + span(from, tap, "even");
  else if (tap.page === sync.page) at = sync.time - span(tap, sync, "even");
  else at = sync.time - span(tap, sync, "wall");
  return Math.round(Math.min(Math.max(at, from ? from.time : -Infinity), sync.time));
};
