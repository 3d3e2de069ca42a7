// The register on the phone: finds an instrument by what is typed, scanned, or named by the address that could not be reached.
import { kept } from "./device-store.js";
import { say } from "./words.js";

const MOST = 20;
const TOKEN = /(?:^|\/T\/)([0-9A-Z]{16})\/?$/i;
const NAMED = /^\/(?:i|T|instruments(?!\/(?:walk|play-tests?|charts|photos|reports)\/)|lend|take-back|fit|leave)\/([^/]+)/;
const BEGIN = /^\/instruments\/([^/]+)\/inspect\/$/;
const $ = (selector, within = document) => within.querySelector(selector);
const register = JSON.parse($("#register").textContent);
const box = $("#pocket-text");
const list = $("[data-pocket-list]");
const says = $("[data-pocket-says]");
const loading = $("[data-pocket-loading]");
let held; // what offline.js has noted of the pages on this phone

const fold = (text) => text.trim().toLowerCase();

const matching = (typed) => {
  const text = fold(TOKEN.exec(typed.trim())?.[1] ?? typed);
  const exact = register.filter((row) => [row.number, ...row.also].some((word) => fold(word) === text));
  return exact.length ? exact : register.filter((row) => fold([row.number, ...row.also, row.name].join(" ")).includes(text));
};

/** Whether the page can be opened: with a signal each can. */
const isThere = (address) => Boolean(address) && (!("asOf" in document.body.dataset) || Boolean(held?.pages[address]));

const walkOf = (row, purpose) => `${row.walk}?${new URLSearchParams({ number: row.number, purpose })}`;

const line = (row) => {
  const item = $("[data-pocket-line]").content.firstElementChild.cloneNode(true);
  item.querySelectorAll("[data-pocket]").forEach((one) => { one.textContent = row[one.dataset.pocket]; });
  const act = (href, textContent) => Object.assign(document.createElement("a"), { className: "btn btn-small", href, textContent });
  const walks = isThere(row.walk) ? row.purposes.map(([purpose, label]) => act(walkOf(row, purpose), say("inspect", { purpose: label }))) : [];
  const plays = isThere(row.play) ? [act(`${row.play}?${new URLSearchParams({ number: row.number })}`, say("play-test"))] : [];
  $("[data-pocket-walks]", item).replaceChildren(...walks, ...plays);
  return item;
};

const show = () => {
  const typed = box.value;
  const found = typed.trim() ? matching(typed) : [];
  list.replaceChildren(...found.slice(0, MOST).map(line));
  const more = found.length - MOST;
  if (!typed.trim()) says.textContent = say("how-many", { count: register.length });
  else if (!found.length) says.textContent = say("none");
  else says.textContent = more > 0 ? say("more", { count: more }) : "";
};

const asked = () => {
  return new URLSearchParams(location.search).get("text") ?? decodeURIComponent(NAMED.exec(location.pathname)?.[1] ?? "");
};

/** The inspection that could not be reached begins here. */
const goOn = () => {
  const number = BEGIN.exec(location.pathname)?.[1];
  const row = number && register.find((one) => one.number === decodeURIComponent(number));
  const purpose = new URLSearchParams(location.search).get("purpose") ?? (row?.purposes.length === 1 ? row.purposes[0][0] : "");
  if (row && purpose && isThere(row.walk)) location.replace(walkOf(row, purpose));
};

const readHeld = async () => {
  [held] = await kept("held");
  loading.hidden = !held?.loading;
  if (held?.loading) loading.textContent = say("loading", held.loading);
};

await readHeld().catch(() => {});
if ("instead" in document.body.dataset) {
  goOn();
  box.value = asked();
  const note = $("[data-instead-says]");
  note.hidden = Boolean(box.value);
  note.textContent = say("not-kept");
}
box.addEventListener("input", show);
$("[data-pocket-find]").addEventListener("submit", (event) => { event.preventDefault(); show(); });
show();
document.addEventListener("held", () => readHeld().catch(() => {}));
