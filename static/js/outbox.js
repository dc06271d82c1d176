// What was tapped and is not yet acknowledged, kept by the browser across reloads and restarts, in its order.
const NAME = "studio-outbox";
const STORE = "taps";
let opened = null;

const open = () => {
  opened ||= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => { opened = null; reject(request.error); };
  });
  return opened;
};

const run = async (mode, work) => {
  const database = await open();
  return new Promise((resolve, reject) => {
    // Strict: a tap that is shown as kept is on the disk, also where the battery is taken out.
    const transaction = database.transaction(STORE, mode, { durability: "strict" });
    const request = work(transaction.objectStore(STORE));
    transaction.oncomplete = () => resolve(request.result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
};

export const put = (tap) => run("readwrite", (store) => store.put(tap));
export const remove = (id) => run("readwrite", (store) => store.delete(id));

export const all = async () => (await run("readonly", (store) => store.getAll())).sort((one, two) => one.turn - two.turn);

// A number for a new tap that is larger than that of any before it, on whatever page and by whatever clock.
export const nextTurn = async () => {
  const last = (await all()).at(-1)?.turn || 0;
  return last + 1;
};

// An id for a tap; crypto.randomUUID is there on secure pages only.
export const newId = () => {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
};
