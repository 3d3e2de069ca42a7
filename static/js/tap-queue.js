// Taps kept on this phone until the server has them, in order, each under a key of its own so that none counts twice.
// A tap: {id, walk, user, url, key, fields: [[name, text or Blob], ...], tap, part, says}. Blobs are photos.
import { say } from "./words.js";

const STORE = "taps";

const opened = new Promise((resolve, reject) => {
  const asked = indexedDB.open("hornbook-taps", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "id", autoIncrement: true });
  asked.onsuccess = () => resolve(asked.result);
  asked.onerror = () => reject(asked.error);
});
opened.catch(() => {}); // a browser without a store: taps are then sent at once or refused aloud

const within = async (mode, work) => {
  const base = await opened;
  return new Promise((resolve, reject) => {
    const change = base.transaction(STORE, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
    const asked = work(change.objectStore(STORE));
    change.oncomplete = () => resolve(asked.result);
    change.onerror = change.onabort = () => reject(change.error);
  });
};

/** Keep a tap; resolves once it is on the disk of the phone. */
export const keep = (tap) => within("readwrite", (store) => store.add(tap));

/** The taps of one walk and one person, oldest first. */
export const kept = async ({ walk, user }) =>
  (await within("readonly", (store) => store.getAll())).filter((tap) => tap.walk === walk && tap.user === user);

const forget = (id) => within("readwrite", (store) => store.delete(id));

export const newKey = () => (crypto.randomUUID ? crypto.randomUUID()
  : "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (digit) =>
    (digit ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (digit / 4)))).toString(16)));

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
export const pump = async ({ walk, user, token, onDone, onRefused }) => {
  const run = async () => {
    for (;;) {
      const [tap] = await kept({ walk, user });
      if (!tap) return { left: 0 };
      let answer;
      try {
        answer = await send(tap, token);
      } catch {
        return { left: (await kept({ walk, user })).length, wait: "connection" };
      }
      if (answer.wait) return { left: (await kept({ walk, user })).length, wait: answer.wait };
      await forget(tap.id);
      if (answer.done) onDone(tap, answer);
      else onRefused(tap, answer);
    }
  };
  return navigator.locks ? navigator.locks.request(`hornbook-taps-${walk}`, run) : run();
};
