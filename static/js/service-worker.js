// Pages without a signal. Files of ours are cached. Pages never are: what is kept of them lies encrypted in the device's store
// (offline.js puts them there) and is shown when the server cannot be reached, with the time it is as of. HORNBOOK comes before
// this script (core/views/phone.py): {scripts, files, version, home, plain}.
importScripts(...HORNBOOK.scripts);

const { registerRoute } = workbox.routing;
const { CacheFirst, NetworkFirst } = workbox.strategies;
const cacheName = `hornbook-${HORNBOOK.version}`;
const HASHED = /(\.[0-9a-f]{12}|\/chunk-[0-9A-Z]{8})\.\w+$/; // its name changes with what is in it
const PATIENCE_MS = 8000; // one bar of signal: a kept page is better than waiting on
const { ROWS, KEYS, within, unseal, nameOfPage } = globalThis.hornbookRows;

// ---- files

const fill = async (more = []) => {
  const cache = await caches.open(cacheName);
  const there = new Set((await cache.keys()).map((one) => new URL(one.url).pathname));
  await Promise.all([...HORNBOOK.files, ...more].filter((file) => !there.has(file)).map((file) => cache.add(file).catch(() => {}))); // the rest as it is asked for
};
addEventListener("install", (event) => event.waitUntil(fill().then(() => skipWaiting())));
addEventListener("activate", (event) => event.waitUntil((async () => {
  for (const name of await caches.keys()) if (name !== cacheName) await caches.delete(name);
  await registration.navigationPreload?.enable(); // the browser asks by itself, and says which site asked
  await clients.claim();
})()));
addEventListener("message", (event) => event.waitUntil(fill(event.data))); // after a log-out, which empties it; pictures too

const isFile = ({ url, sameOrigin }) => sameOrigin && url.pathname.startsWith(HORNBOOK.root);
registerRoute((asked) => isFile(asked) && HASHED.test(asked.url.pathname), new CacheFirst({ cacheName }));
registerRoute(isFile, new NetworkFirst({ cacheName, networkTimeoutSeconds: 3 }));

// ---- pages

/** Who was here last and whose time is not over: their key opens their pages, and nothing else does. */
const holder = async () => {
  const held = await within(KEYS, "readonly", (store) => store.getAll());
  return held.filter((one) => one.open && one.until > Date.now()).sort((one, other) => other.until - one.until)[0];
};

const opened = async (address, { isInstead }) => {
  const own = await holder();
  if (!own) return undefined;
  const kind = await nameOfPage(own.person, address);
  const [row] = await within(ROWS, "readonly", (store) => store.index("whose").getAll([own.person, kind]));
  if (!row || row.until <= Date.now()) return undefined;
  const page = await unseal(own.open, row);
  const marks = `<body data-as-of="${page.at}"${isInstead ? " data-instead" : ""}`;
  const plain = page.isPacked ? page.html.stream().pipeThrough(new DecompressionStream("gzip")) : page.html;
  const text = await new Response(plain).text();
  return new Response(text.replace("<body", marks), {
    headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": page.policy, "Cache-Control": "no-store" },
  });
};

/** The page kept for the address; none where it cannot be opened. */
const keptPage = (address, { isInstead = false } = {}) => opened(address, { isInstead }).catch(() => undefined);

const find = async ({ pathname, search }) => (
  await keptPage(pathname + search) ?? (search ? keptPage(pathname) : undefined)
);

registerRoute(({ request }) => request.mode === "navigate", async ({ event, request, url }) => {
  const asked = Promise.resolve(event.preloadResponse).then((answer) => answer ?? fetch(request));
  const late = new Promise((resolve) => { setTimeout(resolve, PATIENCE_MS); }).then(() => find(url)).then((page) => page ?? asked);
  try {
    return await Promise.race([asked, late]);
  } catch {
    return await find(url) ?? await keptPage(HORNBOOK.home, { isInstead: true }) ?? caches.match(HORNBOOK.plain);
  }
});

// A form that did not get through leads back to its page, which has kept what was typed (kept-forms.js).
registerRoute(({ request }) => request.mode === "navigate", async ({ request }) => {
  try {
    return await fetch(request);
  } catch {
    return Response.redirect(`${(request.referrer || HORNBOOK.home).split("#")[0]}#not-sent`, 303);
  }
}, "POST");
