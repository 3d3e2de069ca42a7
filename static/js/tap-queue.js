// Taps kept on this device until the server has them, in order, each under a key of its own so that none counts twice.
// A tap: {id, walk, home, title, url, key, fields: [[name, text or Blob], ...], tap, part, says}. Blobs are photos.
import { drop, keep as keepRow, kept as keptRows } from "./device-store.js";
import { say } from "./words.js";

/** Keep a tap; resolves once it is on the disk of the phone. */
export const keep = (tap) => keepRow("tap", tap);

/** This person's taps of one walk, oldest first. */
export const kept = async ({ walk }) => (await keptRows("tap")).filter((tap) => tap.walk === walk);

const send = async (tap, token) => {
  const body = new FormData();
  tap.fields.forEach(([name, value]) => {
    if (value instanceof Blob) body.append(name, value, value.name || "photo.jpg");
    else body.append(name, value);
  });
  body.set("key", tap.key);
  const answer = await fetch(tap.url, {
    method: "POST",
    body,
    headers: { Accept: "application/json", "X-CSRFToken": token },
    redirect: "manual",
    credentials: "same-origin",
  });
  if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403) return { wait: "log-in" };
  if (answer.status >= 500 || answer.status === 429) return { wait: "server" };
  let told = {};
  try { told = await answer.json(); } catch { /* a page, not an answer: the status says enough */ }
  return answer.ok ? { done: true, ...told } : { refused: told.refused || say("not-taken"), status: answer.status };
};

/** Send what is kept, oldest first. One tab at a time; stops at the first that does not get through. */
export const pump = async ({ walk, token, onDone, onRefused }) => {
  const run = async () => {
    for (;;) {
      const [tap] = await kept({ walk });
      if (!tap) return { left: 0 };
      let answer;
      try {
        answer = await send(tap, token);
      } catch {
        return { left: (await kept({ walk })).length, wait: "connection" };
      }
      if (answer.wait) return { left: (await kept({ walk })).length, wait: answer.wait };
      await drop(tap.id);
      if (answer.done) onDone(tap, answer);
      else onRefused(tap, answer);
    }
  };
  return navigator.locks ? navigator.locks.request(`hornbook-taps-${walk}`, run) : run();
};
