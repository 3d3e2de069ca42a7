// For when there is no signal: installs the service worker, and keeps the pages that a person needs in a storage room, in the
// device's store. A page that came from there says as of when it is.
import { isOnDisk, keep, keepPage, kept, person } from "./device-store.js";
import { say } from "./words.js";

const EVERY_MS = 30 * 60_000;
const MOST_BYTES = 12_000_000;
const GONE = new Set([403, 404, 410]);
const NOTED_EACH = 5; // pages
const MOST_AHEAD = 3; // steps of a plan behind the one at hand
const { asOf = "", offline = "" } = document.body.dataset;

/** Whether this page came from the device's store. */
export const isKept = Boolean(asOf);

const clock = (at) => new Date(at).toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });
const day = (at) => new Date(at).toLocaleDateString([], { weekday: "short", month: "short", day: "numeric" });

const tell = () => {
  const line = document.querySelector(".offline-note");
  const isToday = new Date(Number(asOf)).toDateString() === new Date().toDateString();
  line.textContent = say(isToday ? "as-of" : "as-of-day", { time: clock(Number(asOf)), day: day(Number(asOf)) });
  line.classList.add("is-said");
  const isBack = () => {
    const link = Object.assign(document.createElement("a"), { className: "link", href: "", textContent: say("load-again") });
    line.replaceChildren(say("signal-back"), " ", link);
  };
  addEventListener("online", isBack);
  document.addEventListener("tap-done", isBack);
};

/** A picture that the phone does not have: its words in its place. */
const sayPictures = () => document.querySelectorAll("main img").forEach((picture) => {
  const put = () => picture.replaceWith(Object.assign(document.createElement("span"), { className: "quiet small", textContent: picture.alt }));
  if (picture.complete && !picture.naturalWidth) put();
  else picture.addEventListener("error", put);
});

/** A page as it is kept: a tenth of its size, where the browser can. */
const packed = (text) => {
  const page = new Blob([text]);
  if (!("CompressionStream" in window)) return page;
  return new Response(page.stream().pipeThrough(new CompressionStream("gzip"))).blob();
};

/** A page in the form that names no student: its text, and the policy that it came with; null where there is none left. */
const ask = async (address) => {
  const answer = await fetch(address, { headers: { "X-Held": "1" }, redirect: "error" });
  if (GONE.has(answer.status)) return null;
  if (!answer.ok) throw new Error(`${address}: ${answer.status}`);
  const text = await answer.text();
  const html = await packed(text);
  return { text, html, isPacked: html.size < text.length, policy: answer.headers.get("Content-Security-Policy"), at: Date.now() };
};

const put = (address, page) => keepPage(address, page && { ...page, text: undefined });

/** The addresses of the steps that a job's page says come next, in the plan's order. */
const stepsAhead = (text) => [...new DOMParser().parseFromString(text, "text/html").querySelectorAll("[data-ahead]:not([aria-current])")]
  .sort((one, other) => one.dataset.ahead - other.dataset.ahead).slice(0, MOST_AHEAD)
  .map((link) => link.getAttribute("href"));

/** Keep the list of what is kept, then each page on it; what is on it no more goes. What was not reached stays as it was. */
const hold = async (worker) => {
  const [last] = await kept("held");
  if (last && Date.now() - last.at < EVERY_MS) return;
  const home = await ask(offline);
  if (!home) return;
  await put(offline, home);
  const list = new DOMParser().parseFromString(home.text, "text/html");
  const before = last?.pages ?? {};
  const pages = {};
  let isWhole = true;
  const room = () => Object.values(pages).reduce((left, { size }) => left - size, MOST_BYTES - home.html.size);
  const stay = (address) => {
    for (const [one, page] of Object.entries(before)) if (one === address || one.startsWith(`${address}?`)) pages[one] ??= page;
  };
  const take = async (address, version) => {
    if (version && before[address]?.version === version) { pages[address] = before[address]; return; }
    let page;
    try { page = await ask(address); } catch { isWhole = false; stay(address); return; }
    if (!page || page.html.size >= room()) return;
    await put(address, page);
    pages[address] = { version, size: page.html.size };
    if (!address.includes("?")) for (const ahead of stepsAhead(page.text)) await take(ahead, version);
  };
  const links = [...list.querySelectorAll("[data-hold]")];
  let id = last?.id;
  /** What is there so far: pocket.js offers nothing whose page is still to come. */
  const note = async (at, there, { isLoading }) => {
    const count = links.filter((link) => there[link.getAttribute("href")]).length;
    id = await keep("held", { at, pages: there, loading: isLoading ? { count, all: links.length } : null }, { id }) ?? id;
    document.dispatchEvent(new Event("held"));
  };
  for (const [number, link] of links.entries()) {
    if (number % NOTED_EACH === 0) await note(last?.at ?? 0, { ...before, ...pages }, { isLoading: true });
    await take(link.getAttribute("href"), link.dataset.hold);
  }
  for (const address of Object.keys(before)) if (!pages[address]) await put(address, null);
  worker.postMessage([...list.querySelectorAll("[data-hold-file]")].map((link) => link.getAttribute("href")));
  await note(isWhole ? Date.now() : last?.at ?? 0, pages, { isLoading: !isWhole });
  document.body.dataset.held = Object.keys(pages).length;
};

/** What was sent has changed the page it was tapped on: that one is kept again. */
const holdAgain = async ({ detail: { tap } }) => {
  if (!["form", "scan", "finish"].includes(tap.tap)) return;
  const [last] = await kept("held");
  const [place] = tap.home.split("?");
  for (const address of Object.keys(last?.pages ?? {}).filter((one) => one.split("?")[0] === place)) {
    await ask(address).then((page) => put(address, page)).catch(() => {});
  }
};

export const startOffline = async () => {
  document.addEventListener("tap-done", (event) => holdAgain(event).catch(() => {}));
  if (isKept) { tell(); sayPictures(); return; }
  if (!person || !offline || !isOnDisk() || !navigator.maxTouchPoints || !navigator.serviceWorker || !navigator.locks) return;
  const worker = await navigator.serviceWorker.register("/service-worker.js");
  if (!worker) return;
  const { active } = await navigator.serviceWorker.ready;
  active.postMessage([]);
  const idle = window.requestIdleCallback ?? ((run) => setTimeout(run, 2000));
  idle(() => navigator.locks.request("hornbook-hold", { ifAvailable: true }, (lock) => lock && hold(active)).catch(() => {}));
};
