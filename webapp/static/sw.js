/**
 * The service worker: keeps one build of the page, whole, for opening without
 * a network.
 *
 * The build's hash and its files are written in when the build is prepared.
 * Installing is all or nothing; the build kept before stays until the second
 * next one, for tabs that still run it. Nothing else passes through here: what
 * the office answers is never kept.
 */
const build = '{{build}}';
const files = '{{files}}'.split(' ');
const later = '{{later}}'.split(' '); // the manual, kept once the app is
const prefix = 'gaugebook-';
const cacheName = prefix + build;

self.addEventListener('install', (event) => event.waitUntil(Promise.all([keep(), route(event)])));

/**
 * Where the browser can, it takes this build's files from the cache itself and
 * does not start this worker for them; what is not there goes by the network, as
 * below. https://www.w3.org/TR/service-workers/#service-worker-static-routing
 */
async function route(event) {
  const kept = { cacheName };
  await event.addRoutes?.([
    { condition: { urlPattern: { pathname: `/app/${build}/*` }, requestMethod: 'GET' }, source: kept },
    { condition: { urlPattern: { pathname: '/', search: '' }, requestMode: 'navigate', requestMethod: 'GET' }, source: kept },
  ]);
}

async function keep() {
  const cache = await caches.open(cacheName);
  try {
    await cache.addAll(files.map((file) => new Request(file, { cache: file.includes(build) ? 'default' : 'reload' })));
    const page = await (await cache.match('/')).text();
    if (!page.includes(`/app/${build}/`)) throw new Error('the office changed its build meanwhile');
  } catch (error) {
    await caches.delete(cacheName);
    throw error;
  }
}

self.addEventListener('activate', (event) => event.waitUntil(settle()));

async function settle() {
  const kept = (await caches.keys()).filter((name) => name.startsWith(prefix) && name !== cacheName);
  await Promise.all(kept.slice(0, -1).map((name) => caches.delete(name)));
  await self.clients.claim();
}

self.addEventListener('message', (event) => {
  if (event.data === 'take over') self.skipWaiting();
  if (event.data === 'keep the manual') event.waitUntil(keepLater());
});

/** What is not here yet. Without the network that fails; the page asks again when it is opened. */
async function keepLater() {
  const cache = await caches.open(cacheName);
  for (const file of later) if (!(await cache.match(file))) await cache.add(file);
}

self.addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (request.mode === 'navigate' && url.pathname === '/') event.respondWith(kept('/', request));
  else if (url.pathname.startsWith('/app/') || files.includes(url.pathname)) event.respondWith(kept(url.pathname, request));
});

/** The kept copy, of this build first; the network where there is none. */
async function kept(path, request) {
  const own = await caches.open(cacheName);
  return (await own.match(path)) ?? (await caches.match(path)) ?? fetch(request);
}
