// Keeps the page's shell, so that the app opens without a network and shows what was last known.
// Nothing of the station itself is kept here: old must never look new.

// The station puts its own language in place of what is said by this.
const _ = (text) => text;

const SHELL = "shell-5";
const FILES = [
  "/static/page.css", "/static/map.css", "/static/page.js", "/static/cards.js", "/static/dom.js", "/static/drive.js", "/static/guide.js", "/static/language.js", "/static/contact.js", "/static/map.js", "/static/world.js", "/static/online.js", "/static/charts.js",
  "/static/search.js", "/static/report.js", "/static/telemetry.js", "/static/crew.js", "/static/tell.js", "/static/sighting.js", "/static/words.js", "/static/leaflet.js", "/static/leaflet.css",
  "/static/icon.svg",
];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil(self.clients.claim());
});

// The network first; what is kept only where that gives nothing.
async function answered(request) {
  const cache = await caches.open(SHELL);
  try {
    const answer = await fetch(request);
    const here = new URL(request.url).pathname;
    if (answer.ok && !answer.redirected && (here === "/" || FILES.includes(here))) await cache.put(request, answer.clone());
    return answer;
  } catch (error) {
    const kept = await cache.match(request);
    if (kept === undefined) throw error;
    return kept;
  }
}

self.addEventListener("fetch", (event) => {
  const { pathname, origin } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== self.location.origin) return;
  if (pathname === "/" || FILES.includes(pathname)) event.respondWith(answered(event.request));
});

// What the station told is shown at once: a browser takes the right away from a page that does not.
self.addEventListener("push", (event) => {
  let told = { title: _("The station told something"), body: _("Open its page."), link: "", tag: "", urgent: false };
  try { told = { ...told, ...event.data.json() }; } catch { /* it could not be read */ }
  event.waitUntil(self.registration.showNotification(told.title, {
    body: told.body, tag: told.tag || undefined, renotify: told.tag !== "", requireInteraction: told.urgent,
    icon: "/static/icon.svg", timestamp: Date.now(), data: { link: told.link },
  }));
});

// A touch opens the place on a map where there is one, else the page.
self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  const { link } = event.notification.data ?? {};
  event.waitUntil(/^(geo:-?\d|https:\/\/)/.test(link ?? "") ? self.clients.openWindow(link) : toPage());
});

async function toPage() {
  const [open] = await self.clients.matchAll({ type: "window" });
  return open === undefined ? self.clients.openWindow("/") : open.focus();
}
