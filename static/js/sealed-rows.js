// The rows of the device's store and how they are encrypted, for pages (device-store.js) and for the service worker, which
// loads no modules: what both need hangs on one name.
globalThis.hornbookRows = (() => {
  const DATABASE = "hornbook-device";
  const [ROWS, KEYS] = ["rows", "keys"];
  const WAITS = new Set(["tap", "form", "refused"]); // kinds that somebody still has to send or to look at

  const bytesOf = (text) => new TextEncoder().encode(text);

  // ---- the database

  let database = null;
  const opened = (onClosed = () => {}) => {
    database ??= new Promise((resolve, reject) => {
      const asked = indexedDB.open(DATABASE, 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore(KEYS, { keyPath: "person" });
        asked.result.createObjectStore(ROWS, { keyPath: "id", autoIncrement: true })
          .createIndex("whose", ["person", "kind"]);
      };
      asked.onsuccess = () => {
        asked.result.onversionchange = () => { asked.result.close(); database = null; onClosed(); };
        resolve(asked.result);
      };
      asked.onerror = () => reject(asked.error);
    });
    return database;
  };

  /** What ``work`` asks of a store; done once it is on the disk. */
  const within = async (name, mode, work) => {
    const open = await opened();
    return new Promise((resolve, reject) => {
      const change = open.transaction(name, mode, mode === "readwrite" ? { durability: "strict" } : undefined);
      const asked = work(change.objectStore(name));
      change.oncomplete = () => resolve(asked?.result);
      change.onerror = change.onabort = () => reject(change.error);
    });
  };

  // ---- a value as bytes: the length of its JSON, the JSON, then its Blobs

  const packed = async (value) => {
    const blobs = [];
    const json = bytesOf(JSON.stringify(value, (_name, one) => {
      if (!(one instanceof Blob)) return one;
      blobs.push(one);
      return { blob: one.size, type: one.type, name: one.name, changed: one.lastModified };
    }));
    return new Blob([new Uint32Array([json.length]), json, ...blobs]).arrayBuffer();
  };

  const unpacked = (buffer) => {
    const [length] = new Uint32Array(buffer.slice(0, 4));
    let at = 4 + length;
    return JSON.parse(new TextDecoder().decode(buffer.slice(4, at)), (_name, one) => {
      if (typeof one?.blob !== "number") return one;
      const part = buffer.slice(at, at + one.blob);
      at += one.blob;
      return new File([part], one.name || "photo.jpg", { type: one.type, lastModified: one.changed });
    });
  };

  const about = (row) => ({ name: "AES-GCM", iv: row.iv, additionalData: bytesOf(`${row.person}/${row.kind}`) });

  /** The row with ``value`` encrypted in it. */
  const seal = async (key, row, value) => {
    const fresh = { ...row, iv: crypto.getRandomValues(new Uint8Array(12)) };
    return { ...fresh, data: await crypto.subtle.encrypt(about(fresh), key, await packed(value)) };
  };
  const unseal = async (key, row) => unpacked(await crypto.subtle.decrypt(about(row), key, row.data));

  /** The kind of the row that keeps the page at ``address``, which it does not say. */
  const nameOfPage = async (person, address) => {
    const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytesOf(`${person} ${address}`)));
    return `page ${[...hash].map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
  };

  return { DATABASE, ROWS, KEYS, WAITS, bytesOf, opened, within, seal, unseal, nameOfPage };
})();
