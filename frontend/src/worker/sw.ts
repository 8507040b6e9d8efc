/**
 * Keeps every built file of one version on the phone and answers from there, so that the app opens without signal.
 *
 * A new version is fetched whole beside the old one and waits: it takes over when the app says so, never in the
 * middle of a haul. Only what lies below the app's own folder is answered here; the record goes its own way.
 */
export {};

declare const __BUILT_FILES__: { version: string; files: string[] };

const worker = self as unknown as ServiceWorkerGlobalScope;
const BUILT = __BUILT_FILES__;
const KEPT = "creekledger-app-";
const OWN = KEPT + BUILT.version;
const HOME = new URL(worker.registration.scope);

worker.addEventListener("install", (event) => {
  event.waitUntil(fill());
});

worker.addEventListener("activate", (event) => {
  event.waitUntil(takeOver());
});

worker.addEventListener("message", (event) => {
  if (event.data === "take over") void worker.skipWaiting();
});

worker.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  const ours = address.origin === HOME.origin && address.pathname.startsWith(HOME.pathname);
  if (ours && event.request.method === "GET") event.respondWith(answer(event.request, address));
});

/** Fetch every file past the browser's own cache; one that cannot be had leaves the old version standing. */
async function fill(): Promise<void> {
  const cache = await caches.open(OWN);
  await cache.addAll(BUILT.files.map((name) => new Request(new URL(name, HOME), { cache: "reload" })));
}

async function takeOver(): Promise<void> {
  for (const name of await caches.keys()) {
    if (name.startsWith(KEPT) && name !== OWN) await caches.delete(name);
  }
  // The very first page is then served from here too, without a reload.
  await worker.clients.claim();
}

async function answer(request: Request, address: URL): Promise<Response> {
  const cache = await caches.open(OWN);
  const page = request.mode === "navigate" ? new URL("index.html", HOME) : address;
  return (await cache.match(page, { ignoreSearch: true })) ?? fetch(request);
}
