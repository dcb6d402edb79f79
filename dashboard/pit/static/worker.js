// Keeps the page's own files for when there is no connection. It never keeps what the server says.

const NAME = "pit-{{version}}";
const FILES = "{{files}}".split(" ");

self.addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(NAME)
      .then((cache) => cache.addAll(FILES.map((name) => new Request(name, { cache: "reload" }))))
      .then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    caches.keys()
      .then((names) => Promise.all(names.filter((n) => n.startsWith("pit-") && n !== NAME).map((n) => caches.delete(n))))
      .then(() => self.clients.claim()),
  );
});

self.addEventListener("fetch", (event) => {
  const address = new URL(event.request.url);
  const ours = address.origin === self.location.origin && address.href.startsWith(self.registration.scope);
  if (event.request.method !== "GET" || !ours || address.pathname.includes("/pit/api/")) return;
  event.respondWith(
    caches.open(NAME)
      .then((cache) => cache.match(event.request, { ignoreSearch: true }))
      .then((kept) => kept ?? fetch(event.request)),
  );
});
