// The bench's service worker: its pages open with the server or the Wi-Fi away.
//
// It keeps the pages of stations, and of the drawings of their work, as they were last seen on this tablet, and the static files they need, by the version
// that views/worker.py names. No other page is in its scope; signing out clears what it keeps (studio.js).
const PAGES = "bench-pages";
const SHELL = `bench-shell-${self.VERSION}`;
const PATIENCE = 5_000;
const HOURS = /^\/bench\/[^/-][^/]*\/hours\/$/;
const STATION = /^\/bench\/[^/-][^/]*\/(drawing\/\d+\/\d+\/)?$/;

self.addEventListener("install", () => self.skipWaiting());

self.addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) {
    if (name.startsWith("bench-shell-") && name !== SHELL) await caches.delete(name);
  }
  await self.clients.claim();
})()));

self.addEventListener("message", (event) => {
  if (event.data.files) event.waitUntil(keepFiles(event.data.files));
  if (event.data.page) event.waitUntil(keepPage(event.data.page));
});

const keepFiles = async (addresses) => {
  const cache = await caches.open(SHELL);
  for (const address of addresses) {
    if (isStatic(address) && !(await cache.match(address))) await cache.add(address).catch(() => {});
  }
};

// A page as its scripts have changed it, under the rules with which the server sent it.
const keepPage = async ({ address, html }) => {
  const cache = await caches.open(PAGES);
  const path = new URL(address, self.location).pathname;
  const sent = await cache.match(path, { ignoreVary: true });
  if (!sent) return;
  const headers = headersOf(sent);
  for (const key of new Set([path, address])) await cache.put(key, new Response(html, { headers }));
};

const headersOf = (sent) => {
  const headers = new Headers();
  for (const name of ["Content-Type", "Content-Security-Policy"]) {
    if (sent.headers.has(name)) headers.set(name, sent.headers.get(name));
  }
  return headers;
};

const isStatic = (address) => {
  const url = new URL(address, self.location);
  return url.origin === self.location.origin && url.pathname.startsWith(self.STATIC);
};

self.addEventListener("fetch", (event) => {
  const { request } = event;
  if (request.method !== "GET") return;
  if (request.mode === "navigate") event.respondWith(page(request));
  else if (isStatic(request.url)) event.respondWith(file(request));
});

const page = async (request) => {
  const { pathname, search } = new URL(request.url);
  try {
    const answer = await within(fetch(request));
    if (answer.status >= 502) throw new Error("The server is away");
    if (answer.ok && answer.type === "basic" && STATION.test(pathname) && !search) await (await caches.open(PAGES)).put(pathname, answer.clone());
    return answer;
  } catch {
    // Hours are of the person whom the address names, and of nobody else.
    return kept(HOURS.test(pathname) ? pathname + search : pathname);
  }
};

const within = (answer) => Promise.race([answer, new Promise((_, reject) => setTimeout(() => reject(new Error("Too slow")), PATIENCE))]);

const kept = async (pathname) => {
  const cache = await caches.open(PAGES);
  const found = await cache.match(pathname, { ignoreVary: true });
  if (found) return asKept(found);
  const last = (await cache.keys()).map((key) => new URL(key.url)).find((url) => !url.search && !url.pathname.includes("/drawing/"));
  if (pathname === "/bench/" && last) return Response.redirect(last.pathname);
  return new Response(self.AWAY, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
};

// The page says that it was kept, and may be older than what waits on this tablet (offline.js).
const asKept = async (found) => {
  const headers = headersOf(found);
  return new Response((await found.text()).replace("<html ", '<html data-kept="yes" '), { headers });
};

const file = async (request) => {
  const cache = await caches.open(SHELL);
  const found = await cache.match(request, { ignoreVary: true });
  // A name with a hash in it always means the same file.
  if (found && self.VERSION !== "unhashed") return found;
  try {
    const answer = await fetch(request);
    if (answer.ok) await cache.put(request, answer.clone());
    return answer;
  } catch (error) {
    if (found) return found;
    throw error;
  }
};
