// What was tapped and sent on this device, kept until the server has it: in order, each under a key of its own so that none
// counts twice. Every page sends it (sending.js). What the server refuses stays until somebody has seen it.
//
// A tap: {id, at, walk, home, title, url, key, fields: [[name, text or Blob], ...], tap, part, says}. ``walk`` is what it belongs to;
// a form that was sent without a signal has ``row`` (kept-forms.js) instead of fields. An inspection that began here has no
// number of the server's yet: its addresses have 0 there, and its first tap, "begin", brings the number.
// Events on the document: "tap-kept"; "tap-done" and "tap-refused" with {tap, answer}, the latter not kept where it is taken.
import { drop, keep as keepRow, kept as keptRows, person } from "./device-store.js";
import { say } from "./words.js";

const NOT_BEGUN = "/walk/0/";
const MOST_FAULTS = 5; // as often it ended in an error of the server's: its person is shown it

const tell = (name, detail, options = {}) => document.dispatchEvent(new CustomEvent(name, { detail, ...options }));

/** Keep a tap; resolves once it is on the disk of the phone. */
export const keep = async (tap) => {
  const id = await keepRow("tap", { at: tap.row?.at ?? Date.now(), ...tap });
  tell("tap-kept");
  return id;
};

/** This person's taps, oldest first; of one walk, or all. */
export const kept = async ({ walk } = {}) => (await keptRows("tap")).filter((tap) => walk === undefined || tap.walk === walk);

/** Whether the server could not take it however often it was sent. It stays and is sent on, with what belongs to the same. */
export const isStuck = (tap) => tap.faults >= MOST_FAULTS;

/** What the server refused and nobody has seen yet: taps with ``why``. */
export const refused = () => keptRows("refused");

/** The server's address of an inspection that began on this phone, once it has one. */
export const begunAt = async (walk) => (await keptRows("begun")).findLast((one) => one.walk === walk)?.url;

/** The fields of a form as it was sent, with the button. */
export const fieldsOf = (row) => [
  ...Object.entries(row.values).flatMap(([name, values]) => values.map((value) => [name, value])), ...(row.by ? [row.by] : []),
];

const WHY = ".notice-stop p:not(.notice-title), [data-refused-says], .errorlist li, .error-page .lead";
const whyOf = (text) => new DOMParser().parseFromString(text, "text/html").querySelector(WHY)?.textContent.trim();

/** The token of the log-in of now, once there has been another since this page: none for anybody else. */
const freshToken = async () => {
  const answer = await fetch(document.querySelector("a.mark").href, { headers: { "X-Held": "1" } });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  return page.body.dataset.person === person ? page.querySelector("input[name=csrfmiddlewaretoken]")?.value : undefined;
};

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
  if (answer.type === "opaqueredirect" || answer.status === 401) return { wait: "log-in" };
  if (answer.status === 500) return { wait: "fault" };
  if (answer.status > 500 || answer.status === 429) {
    return { wait: "server", after: Number(answer.headers.get("Retry-After")) * 1000 || 0 };
  }
  const text = await answer.text();
  if (answer.status === 403 && text.includes("data-stale")) return { wait: "log-in", isStale: true };
  if (answer.status === 403 && !whyOf(text)) return { wait: "server" }; // not of ours: something between
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

/** Send what is kept, oldest first. One tab at a time; stops at the first that does not get through. An error of the server's
 * holds up only what belongs to the same. Undefined with ``ifAvailable`` where another tab sends. */
export const sendAll = async (token, { ifAvailable = false } = {}) => {
  const run = async (lock) => {
    if (navigator.locks && !lock) return undefined;
    let sent = 0;
    const heldUp = new Set();
    let hasAsked = false;
    const next = async () => (await kept()).filter((tap) => !heldUp.has(tap.walk));
    for (let taps = await next(); taps.length; taps = await next()) {
      for (const [at, tap] of taps.entries()) {
        if (heldUp.has(tap.walk)) continue;
        let answer;
        try {
          answer = await send(tap, token);
          if (answer.isStale && !hasAsked) {
            hasAsked = true;
            token = await freshToken();
            if (token) answer = await send(tap, token);
          }
        } catch {
          answer = { wait: "connection" };
        }
        if (answer.wait === "fault") {
          heldUp.add(tap.walk);
          if (!isStuck(tap)) await keepRow("tap", { ...tap, faults: (tap.faults ?? 0) + 1 }, { id: tap.id });
        } else if (answer.wait) return { ...answer, left: (await kept()).length, sent };
        else if (answer.done) {
          if (tap.tap === "begin") await keepRow("begun", { walk: tap.walk, url: answer.url });
          await drop(tap.id);
          sent += 1;
          tell("tap-done", { tap, answer });
        } else if (tap.tap === "begin") {
          for (const one of taps.slice(at).filter((other) => other.walk === tap.walk)) await refuse(one, answer);
          break;
        } else await refuse(tap, answer);
      }
    }
    return heldUp.size ? { left: (await kept()).length, wait: "server", sent } : { left: 0 };
  };
  return navigator.locks ? navigator.locks.request("hornbook-taps", { ifAvailable }, run) : run();
};
