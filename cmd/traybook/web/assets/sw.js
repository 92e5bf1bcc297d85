"use strict";
// On the machine itself the page of the run opens though the program is away: as it was seen last, with what it keeps. What the
// program answers always comes first.
const kept = "traybook-camera";
self.addEventListener("install", function () { self.skipWaiting(); });
self.addEventListener("activate", function (e) { e.waitUntil(self.clients.claim()); });
self.addEventListener("fetch", function (e) {
  const at = new URL(e.request.url);
  const page = at.pathname === "/camera", part = /^\/(style\.css|page\.js|camera\.js|icon\.svg)$/.test(at.pathname);
  if (e.request.method !== "GET" || at.origin !== self.location.origin || !page && !part) { return; }
  e.respondWith(fetch(e.request).then(function (r) {
    if (!r.ok) { return r; }
    const copy = r.clone();
    return caches.open(kept).then(function (c) {
      return c.delete(e.request, { ignoreSearch: true }).then(function () { return c.put(e.request, copy); });
    }).then(function () { return r; }, function () { return r; });
  }, function (err) {
    return caches.open(kept).then(function (c) { return c.match(e.request, { ignoreSearch: page }); }).then(function (r) {
      if (!r) { throw err; }
      return r;
    });
  }));
});
