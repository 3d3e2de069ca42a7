// What was tapped and sent on this device, kept until the server has it: in order, each under a key of its own so that none
// counts twice. Every page sends it (sending.js). What the server refuses stays until somebody has seen it.
//
// A tap: {id, at, walk, home, title, url, key, fields: [[name, text or Blob], ...], tap, part, says}. ``walk`` is what it belongs to;
// a form that was sent without a signal has ``row`` (kept-forms.js) instead of fields. An inspection that began here has no
// number of the server's yet: its addresses have 0 there, and its first tap, "begin", brings the number.
// Events on the document: "tap-kept"; "tap-done" and "tap-refused" with {tap, answer}, the latter not kept where it is taken.
import { drop, keep as keepRow, kept as keptRows } from "./device-store.js";
import { say } from "./words.js";

const NOT_BEGUN = "/walk/0/";

const tell = (name, detail, options = {}) => document.dispatchEvent(new CustomEvent(name, { detail, ...options }));

/** Keep a tap; resolves once it is on the disk of the phone. */
export const keep = async (tap) => {
  const id = await keepRow("tap", { at: tap.row?.at ?? Date.now(), ...tap });
  tell("tap-kept");
  return id;
};

/** This person's taps, oldest first; of one walk, or all. */
export const kept = async ({ walk } = {}) => (await keptRows("tap")).filter((tap) => walk === undefined || tap.walk === walk);

/** What the server refused and nobody has seen yet: taps with ``why``. */
export const refused = () => keptRows("refused");

/** The server's address of an inspection that began on this phone, once it has one. */
export const begunAt = async (walk) => (await keptRows("begun")).findLast((one) => one.walk === walk)?.url;

/** The fields of a form as it was sent, with the button. */
export const fieldsOf = (row) => [
  ...Object.entries(row.values).flatMap(([name, values]) => values.map((value) => [name, value])), ...(row.by ? [row.by] : []),
];

const WHY = ".notice-stop p:not(.notice-title), [data-refused-says], .errorlist li";
const whyOf = (text) => new DOMParser().parseFromString(text, "text/html").querySelector(WHY)?.textContent.trim();

const send = async (tap, token) => {
  const body = new FormData();
  (tap.row ? fieldsOf(tap.row) : tap.fields).forEach(([name, value]) => {
    if (value instanceof Blob) body.append(name, value, value.name || "photo.jpg");
    else body.append(name, value);
  });
  body.set("key", tap.key);
  const real = tap.url.includes(NOT_BEGUN) && await begunAt(tap.walk);
  const answer = await fetch(real ? tap.url.replace(NOT_BEGUN, real.match(/\/walk\/\d+\//)[0]) : tap.url, {
    method: "POST",
    body,
    headers: { Accept: "application/json", "X-Queued": String(Math.max(0, Date.now() - tap.at)), "X-CSRFToken": token },
    redirect: "manual",
    credentials: "same-origin",
  });
  if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) return { wait: "log-in" };
  if (answer.status >= 500 || answer.status === 429) return { wait: "server" };
  const text = await answer.text();
  let answered = {};
  try { answered = JSON.parse(text); } catch { answered = { refused: whyOf(text) }; }
  if (answer.ok && answered.ok) return { done: true, ...answered };
  return { refused: answered.refused || say("not-taken"), status: answer.status };
};

const refuse = async (tap, answer) => {
  const isSeen = !tell("tap-refused", { tap, answer }, { cancelable: true });
  const { id, row, fields, ...about } = tap;
  if (!isSeen) await keepRow("refused", { ...about, why: answer.refused, at: Date.now() });
  if (row) await keepRow("form", row); // its page fills it in again
  await drop(id);
};

/** Send what is kept, oldest first. One tab at a time; stops at the first that does not get through. */
export const sendAll = async (token) => {
  const run = async () => {
    for (let taps = await kept(); taps.length; taps = await kept()) {
      for (const [at, tap] of taps.entries()) {
        let answer;
        try {
          answer = await send(tap, token);
        } catch {
          answer = { wait: "connection" };
        }
        if (answer.wait) return { left: taps.length - at, wait: answer.wait };
        if (answer.done) {
          if (tap.tap === "begin") await keepRow("begun", { walk: tap.walk, url: answer.url });
          await drop(tap.id);
          tell("tap-done", { tap, answer });
        } else if (tap.tap === "begin") {
          for (const one of taps.slice(at).filter((other) => other.walk === tap.walk)) await refuse(one, answer);
          break;
        } else await refuse(tap, answer);
      }
    }
    return { left: 0 };
  };
  return navigator.locks ? navigator.locks.request("hornbook-taps", run) : run();
};
