/*
 * The service worker. VERSION, SHELL, FILES and LATER stand before this text; the build
 * writes them. One version is one set of bytes: every file is checked against its
 * hash when it is fetched, and all are there or the version is not installed.
 *
 * To take the service worker off every phone, serve sw-off.js at this address.
 */
'use strict';

const PREFIX = 'hangtrue-';

/** The pages as they were last shown: a title element, and what stands in main (see store.js). */
const PAINTED = 'painted';

const CACHE = PREFIX + VERSION;
const LISTED = new Set(FILES.map((file) => file.url));

/** Files that are fetched when they are needed, and kept from then on. */
const ONCE = new Map(LATER.map((file) => [file.url, file.integrity]));

/** Paths that the program in the page renders; the server's own pages are not among them. */
const rendered = (path) => path === '/' || path === '/you' || (path.startsWith('/jobs/') && !path.split('/').pop().includes('.'));

/** Where a browser can, it takes what is listed from the cache by itself, without asking here. */
const routes = () => FILES.filter(({ url }) => url.startsWith('/assets/')).map(({ url }) => (
  { condition: { urlPattern: new URLPattern({ pathname: url }) }, source: { cacheName: CACHE } }
));

/** The server's pages about who may come in (see pair.js). Out of its reach the program shows them. */
const GUEST = ['/pair', '/view', '/unpair', '/devices'];

self.addEventListener('install', (event) => {
  event.addRoutes?.(routes()).catch((error) => { console.warn('routes:', error); });
  // A file named by its content may come from the browser's cache: the hash decides.
  // No skipWaiting: an old page and a new worker must not meet unasked.
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll([
      new Request(SHELL, { cache: 'reload', credentials: 'same-origin' }),
      ...[...FILES, ...await used()].map(({ url, integrity }) => new Request(url, { integrity, cache: url.startsWith('/assets/') ? 'default' : 'reload' })),
    ]);
  })());
});

self.addEventListener('message', (event) => {
  if (event.data === 'use') self.skipWaiting();
  if (event.data === 'tidy') event.waitUntil(tidy());
});

/** Removes the files of other versions once the only page left is one of ours. */
async function tidy() {
  const pages = await self.clients.matchAll({ type: 'window', includeUncontrolled: true });
  if (pages.length > 1 || self.registration.waiting || self.registration.installing) return;
  for (const name of await caches.keys()) {
    if (name.startsWith(PREFIX) && name !== CACHE) await caches.delete(name);
  }
}

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== self.location.origin || url.pathname.startsWith('/api/')) return;
  if (request.mode === 'navigate') {
    if (rendered(url.pathname)) event.respondWith(shell(request, url.pathname));
    else if (GUEST.includes(url.pathname)) event.respondWith(fetch(request).catch(() => shell(request, url.pathname)));
  } else if (LISTED.has(url.pathname)) {
    event.respondWith(file(request, url.pathname));
  } else if (ONCE.has(url.pathname)) {
    event.respondWith(once(url.pathname));
  } else if (url.pathname.startsWith('/assets/')) {
    event.respondWith(older(request, url.pathname));
  }
});

/**
 * The page as it was last shown at this path, long before the program is ready to draw
 * it anew. Nothing in it takes a key or a tap before the script listens: what is typed
 * must not be lost.
 */
async function shell(request, path) {
  const [page, last] = await Promise.all([caches.open(CACHE).then((cache) => cache.match(SHELL)), painted(path)]);
  if (!page || !last) return page ?? fetch(request);
  const empty = await page.text();
  const from = empty.indexOf('>', empty.indexOf('<main '));
  const head = empty.slice(0, from);
  const tail = empty.slice(empty.indexOf('</main>', from));
  const end = last.indexOf('</title>') + '</title>'.length;
  const headers = new Headers(page.headers);
  for (const name of ['Content-Encoding', 'Content-Length']) headers.delete(name); // of other bytes
  return new Response(head.replace(/<title>.*<\/title>/, () => last.slice(0, end)) + ' inert>' + last.slice(end) + tail, { headers });
}

async function painted(path) {
  try {
    return await (await caches.match(path, { cacheName: PAINTED }))?.text();
  } catch {
    return undefined; // the page comes without it
  }
}

async function file(request, path) {
  const cache = await caches.open(CACHE);
  return await cache.match(path) ?? fetch(request);
}

/** Whoever has used a file once has it from then on, out of reach as well. */
async function once(path) {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(path);
  if (kept) return kept;
  const answer = await fetch(new Request(path, { integrity: ONCE.get(path) }));
  if (answer.ok) await cache.put(path, answer.clone());
  return answer;
}

/** The files of LATER that this phone has used in an earlier version. */
async function used() {
  const kind = (path) => path.split('.')[0];
  const kept = new Set();
  for (const name of await caches.keys()) {
    if (!name.startsWith(PREFIX)) continue;
    for (const request of await (await caches.open(name)).keys()) kept.add(kind(new URL(request.url).pathname));
  }
  return LATER.filter((file) => kept.has(kind(file.url)));
}

/** A page of an earlier version asks for its own files while it is still open. */
async function older(request, path) {
  return await caches.match(path) ?? fetch(request);
}
