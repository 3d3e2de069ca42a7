// What waits on this device until the server has it: unsent taps, half-filled forms, their photos. Each row belongs to one
// person and is encrypted (AES-GCM) with a key that no script can export. The key is made of two halves: one never leaves this
// browser, the other comes with the person's own pages, so that it takes that person's log-in to open what an ended session
// left. A page that comes without its half, for want of a signal, opens the store for a set time only.
//
// Pages for when there is no signal lie in the same store, each under a name made of its address (keepPage).
//
// keep(kind, value) and kept(kind) take and return plain values with Blobs anywhere in them; drop(id), lock(), destroy().
// Where the browser gives no encryption, as over plain http, nothing is written down: rows live as long as the page, and
// isOnDisk() says so.

import "./sealed-rows.js";

const { DATABASE, ROWS, KEYS, WAITS, bytesOf, seal: sealed, unseal, nameOfPage } = globalThis.hornbookRows;
const HOUR_MS = 3_600_000;
const { person = "", seal = "", session = "", hours = "0" } = document.body.dataset;

/** Who this page is for, "" for nobody; ``session`` tells one log-in from the next. */
export { person, session };

const memory = new Map();
let isOver = false; // logged out: a keystroke in another tab keeps nothing
let isDisk = Boolean(window.isSecureContext && globalThis.crypto?.subtle && globalThis.indexedDB);

/** Whether what is kept outlives this page. */
export const isOnDisk = () => isDisk;

export const newKey = () => (crypto.randomUUID ? crypto.randomUUID()
  : "10000000-1000-4000-8000-100000000000".replace(/[018]/g, (digit) =>
    (digit ^ (crypto.getRandomValues(new Uint8Array(1))[0] & (15 >> (digit / 4)))).toString(16)));

// ---- the database

const opened = () => globalThis.hornbookRows.opened(() => { isOver = true; }).catch((error) => { isDisk = false; throw error; });
const within = async (...asked) => { await opened(); return globalThis.hornbookRows.within(...asked); };

/** Do it on the disk, or in memory where there is none. */
const either = async (onDisk, inMemory) => {
  if (!isDisk) return inMemory();
  try {
    return await onDisk();
  } catch (error) {
    if (isDisk) throw error;
    return inMemory();
  }
};

// ---- the key

let mine = null;
const key = () => {
  mine ??= (async () => {
    const held = await within(KEYS, "readonly", (store) => store.get(person));
    if (!seal) {
      if (held?.open && held.until > Date.now()) return held.open;
      throw new Error("locked");
    }
    const fresh = await crypto.subtle.importKey("raw", crypto.getRandomValues(new Uint8Array(32)), "HKDF", false, ["deriveKey"]);
    let half = fresh; // two tabs may begin at once: whoever writes first has it
    await within(KEYS, "readwrite", (store) => {
      const asked = store.get(person);
      asked.onsuccess = () => {
        half = asked.result?.half ?? fresh;
        store.put({ ...asked.result, person, half });
      };
    });
    const open = await crypto.subtle.deriveKey(
      { name: "HKDF", hash: "SHA-256", salt: bytesOf(seal), info: bytesOf(person) },
      half, { name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"],
    );
    await within(KEYS, "readwrite", (store) => store.put({ person, half, open, until: until() }));
    return open;
  })().catch((error) => { mine = null; throw error; });
  return mine;
};

const until = () => Date.now() + Number(hours) * HOUR_MS;

// ---- what others use

let line = Promise.resolve(); // rows are written in the order they were handed over, however large one is

/** Keep a value; resolves with its id once it is on the disk. With ``id`` it replaces that row. */
export const keep = (kind, value, { id } = {}) => {
  const write = () => either(async () => {
    if (isOver) return undefined;
    const row = await sealed(await key(), { person, kind, until: until() }, value);
    return within(ROWS, "readwrite", (store) => store.put(id === undefined ? row : { ...row, id }));
  }, () => {
    const own = id ?? `${kind} ${newKey()}`;
    memory.set(own, { kind, value });
    return own;
  });
  line = line.then(write, write);
  return line;
};

/** The values of one kind that this person kept, oldest first, each with its ``id``. */
export const kept = (kind) => either(async () => {
  if (isOver) return [];
  const rows = await within(ROWS, "readonly", (store) => store.index("whose").getAll([person, kind]));
  const found = [];
  for (const row of rows.filter((one) => one.until > Date.now())) {
    try {
      found.push({ ...await unseal(await key(), row), id: row.id });
    } catch {
      if (seal) await drop(row.id); // its key is gone: the server has another secret than when it was kept
    }
  }
  return found.sort((one, other) => one.id - other.id);
}, () => [...memory].filter(([, row]) => row.kind === kind).map(([id, row]) => ({ ...row.value, id })));

export const drop = (id) => either(
  () => within(ROWS, "readwrite", (store) => store.delete(id)), () => { memory.delete(id); },
);

/** Keep a page for when there is no signal, in place of the one kept before; ``null`` where it is no longer kept. */
export const keepPage = async (address, value) => {
  if (!isDisk) return;
  const kind = await nameOfPage(person, address);
  const [before] = await within(ROWS, "readonly", (store) => store.index("whose").getAllKeys([person, kind]));
  if (value) await keep(kind, value, { id: before });
  else if (before !== undefined) await drop(before);
};

/** How many rows wait here to be sent, whoever they belong to; nothing is opened. Those past their time are deleted first. */
export const waiting = () => either(async () => {
  let left = 0;
  const alive = new Set([person]);
  await within(ROWS, "readwrite", (store) => {
    const asked = store.openCursor();
    asked.onsuccess = () => {
      const at = asked.result;
      if (!at) return;
      if (at.value.until > Date.now()) { left += WAITS.has(at.value.kind); alive.add(at.value.person); } else at.delete();
      at.continue();
    };
  });
  await within(KEYS, "readwrite", (store) => {
    const asked = store.getAll();
    asked.onsuccess = () => asked.result.filter((one) => !alive.has(one.person)).forEach((one) => store.delete(one.person));
  });
  return left;
}, () => memory.size);

/** The session has ended: from here on it takes the person's own log-in to open anything. */
export const lock = () => either(() => within(KEYS, "readwrite", (store) => {
  const asked = store.getAll();
  asked.onsuccess = () => asked.result.forEach(({ person: whose, half }) => store.put({ person: whose, half }));
}), () => {});

/** Destroy this person's key and rows; resolves with how many rows of others stay. Nothing is kept after it. */
export const destroy = async () => {
  isOver = true;
  memory.clear();
  await line.catch(() => {});
  return either(async () => {
    await within(ROWS, "readwrite", (store) => {
      const asked = store.openCursor();
      asked.onsuccess = () => {
        const at = asked.result;
        if (!at) return;
        if (at.value.person === person) at.delete();
        at.continue();
      };
    });
    await within(KEYS, "readwrite", (store) => store.delete(person));
    const left = (await within(ROWS, "readonly", (store) => store.getAll())).filter((row) => WAITS.has(row.kind)).length;
    if (!left) {
      (await opened()).close();
      indexedDB.deleteDatabase(DATABASE);
    }
    return left;
  }, () => 0);
};
