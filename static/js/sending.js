// Every page sends what waits on this device, and says how it stands: saved here, sent, or needing its person.
import { drop, isOnDisk, person } from "./device-store.js";
import { isStuck, kept, refused, sendAll } from "./tap-queue.js";
import { say } from "./words.js";

const SOON_MS = 5000;
const LATE_MS = 5 * 60_000; // each time in vain, the next is twice as late, up to this
const SENT_MS = 6000;
const line = document.querySelector("[data-sending]");
const $ = (name) => line.querySelector(`[data-sending-${name}]`);
const isWalk = Boolean(document.querySelector("[data-walk]")); // says by itself what it keeps
let wait = "";
let vain = 0; // times in a row that this tab sent by itself, and nothing got through
let rest = SOON_MS;
let timer = 0;
let heard = [];

const entry = (one, { isRefused }) => {
  const item = $("entry").content.firstElementChild.cloneNode(true);
  const [link, what, why, button] = item.querySelectorAll("a, [data-what], [data-why], button");
  Object.assign(link, { href: one.home, textContent: one.title });
  what.textContent = one.says?.join(", ") ?? "";
  why.textContent = one.why ?? "";
  button.textContent = say(isRefused ? "seen" : "discard");
  button.addEventListener("click", async () => {
    for (const id of one.ids) await drop(id);
    show();
  });
  return item;
};

/** One line for each walk and reason, however many taps it has. */
const grouped = (rows) => {
  const groups = new Map();
  rows.forEach((row) => {
    const name = `${row.walk}\n${row.why ?? ""}`;
    const one = groups.get(name) ?? { ...row, says: [], ids: [] };
    one.ids.push(row.id);
    const said = row.says?.length ? row.says : [row.label];
    if (said[0]) one.says.push(said.join(" "));
    groups.set(name, one);
  });
  return [...groups.values()];
};

const show = async () => {
  const [waiting, seen] = await Promise.all([kept(), refused()]).catch(() => [[], []]);
  const taps = waiting.filter((tap) => !isStuck(tap));
  const stuck = waiting.filter(isStuck).map((tap) => ({ ...tap, why: say("not-taken") }));
  const needs = [...seen, ...stuck];
  line.hidden = !needs.length && (isWalk || !(taps.length || heard.length));
  line.classList.toggle("needs-you", Boolean(needs.length));
  const words = [];
  if (needs.length) words.push(say(needs.length === 1 ? "one-needs-you" : "needs-you", { count: needs.length }));
  if (taps.length) words.push(say(!isOnDisk() ? "open-here" : wait === "log-in" ? "log-in-first" : "saved-here", { count: taps.length }));
  if (!taps.length && heard.length) words.push(heard.filter(Boolean).at(-1) || say("sent"));
  $("says").textContent = words.join(" · ");
  $("list").replaceChildren(
    ...grouped(seen).map((one) => entry(one, { isRefused: true })),
    ...grouped([...stuck, ...taps]).map((one) => entry(one, { isRefused: false })),
  );
};

const token = () => document.querySelector("input[name=csrfmiddlewaretoken]")?.value ?? "";

const later = () => {
  clearTimeout(timer);
  timer = setTimeout(async () => {
    if (navigator.onLine && (await kept().catch(() => [])).length) await sendNow({ ifAvailable: true });
    else later();
  }, rest);
};

/** Send all that waits; resolves with how many are left, and what for: the store may have been destroyed meanwhile. */
export const sendNow = async ({ ifAvailable = false } = {}) => {
  clearTimeout(timer);
  const result = await sendAll(token(), { ifAvailable }).catch(() => ({ left: 0 }));
  if (result) {
    if (!result.wait || result.sent) vain = 0;
    else if (ifAvailable) vain += 1;
    rest = Math.max(Math.min(SOON_MS * 2 ** vain, LATE_MS), result.after ?? 0);
    wait = result.wait ?? "";
    await show();
    document.dispatchEvent(new CustomEvent("taps-sent", { detail: result }));
  }
  later();
  return result;
};

export const startSending = async () => {
  if (!person || !line) return;
  document.addEventListener("tap-kept", show);
  document.addEventListener("send-taps", () => sendNow());
  document.addEventListener("tap-done", ({ detail }) => {
    heard.push(detail.answer.says ?? "");
    setTimeout(() => { heard = []; show(); }, SENT_MS);
  });
  addEventListener("online", () => { vain = 0; sendNow(); });
  await sendNow();
};
