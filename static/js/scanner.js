// A scanner that types: an address from one of our papers, typed faster than a person can and ended by Enter, opens.
// A key that goes to something that is being typed into is never looked at.
(() => {
  const FAST = 60, LEAST = 6; // Milliseconds between two keys, and the fewest keys: from memory, no published source.
  let typed = "", last = 0;

  const typing = (place) => place.isContentEditable || place.closest("input, textarea, select");

  const open = (text) => {
    let address;
    try { address = new URL(text); } catch { return false; }
    // Whatever host the code was printed for, it is opened here: a code never leads away from the studio.
    if (!/^\/s\/\d+\/([-\w]+\/)?$/.test(address.pathname)) return false;
    location.assign(address.pathname);
    return true;
  };

  document.addEventListener("keydown", (event) => {
    if (typing(event.target) || event.ctrlKey || event.altKey || event.metaKey) { typed = ""; return; }
    if (event.timeStamp - last > FAST) typed = "";
    last = event.timeStamp;
    if (event.key === "Enter") {
      const text = typed;
      typed = "";
      if (text.length >= LEAST && open(text)) { event.preventDefault(); event.stopPropagation(); }
    } else if (event.key.length === 1) {
      typed += event.key;
    }
  }, true);
})();
