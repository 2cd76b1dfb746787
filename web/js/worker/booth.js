// @ts-check
// The service worker of a page for a tablet: its files, from the device. The server puts the list of them, `SHELL`, before this text.

/**
 * @typedef {{files: Record<string, string>}} Shell the digest of each file, by the path that asks for it
 * @typedef {Event & {waitUntil: (done: Promise<unknown>) => void}} Extendable
 * @typedef {Extendable & {request: Request, respondWith: (answer: Promise<Response>) => void}} Fetching
 */

const worker = /** @type {any} */ (self);
// Each page has its own copy: one that was brought up to date takes no file from under the other.
const CACHE = `festoon-${new URL(worker.registration.scope).pathname.slice(1)}`;
const shell = /** @type {Shell} */ (worker.SHELL);

/** A file's place in the cache: another content is another place. @param {string} path */
function placeOf(path) {
  return `${path}?${shell.files[path]}`;
}

/** Fetches what is new; a file that did not change is not fetched again. */
async function fill() {
  const cache = await caches.open(CACHE);
  await Promise.all(
    Object.keys(shell.files).map(async (path) => {
      if (await cache.match(placeOf(path))) return;
      const answer = await fetch(path, { cache: "no-cache" });
      if (!answer.ok || answer.redirected) throw new Error(`${path}: ${answer.status}`);
      await cache.put(placeOf(path), answer);
    }),
  );
}

/** Forgets the files of older shells. */
async function clear() {
  const cache = await caches.open(CACHE);
  const wanted = new Set(Object.keys(shell.files).map(placeOf));
  for (const { url } of await cache.keys()) {
    const { pathname, search } = new URL(url);
    if (!wanted.has(pathname + search)) await cache.delete(url);
  }
}

/** @param {Request} request @param {string} path */
async function answerTo(request, path) {
  const cache = await caches.open(CACHE);
  return (await cache.match(placeOf(path))) ?? fetch(request);
}

worker.addEventListener("install", (/** @type {Extendable} */ event) => {
  worker.skipWaiting();
  event.waitUntil(fill());
});

worker.addEventListener("activate", (/** @type {Extendable} */ event) => {
  event.waitUntil(clear().then(() => worker.clients.claim()));
});

worker.addEventListener("fetch", (/** @type {Fetching} */ event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin || !(pathname in shell.files)) return;
  event.respondWith(answerTo(request, pathname));
});
