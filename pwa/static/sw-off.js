/*
 * Served in place of sw.js, this takes the service worker and its files off a
 * phone. What the phone has recorded is not touched.
 */
'use strict';

self.addEventListener('install', () => self.skipWaiting());
self.addEventListener('activate', (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) await caches.delete(name);
    await self.registration.unregister();
    for (const page of await self.clients.matchAll({ type: 'window' })) page.navigate(page.url);
  })());
});
