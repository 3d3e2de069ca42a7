// A form marked data-keep waits on this device, as it is typed and as it was sent, until the server says by a cookie that it
// has it. A browser log-in that ended, a page open too long, a lost connection or an empty battery lose nothing: the form's
// page fills it in again, for the same person only, and says so; every other page names what waits from an earlier log-in.
//
// data-keep: the form's name on its page. data-keep-version with data-of-version on fields: these are filled in only while
// the version is the same (nobody signs terms that were not on the page). data-keep-unseen: fields of another level go along.
// Events: "filled-in" on the form afterward, for scripts that draw from fields; "taken" on it once a script has sent it.
import { drop, isOnDisk, keep, kept, newKey, person, session, waiting } from "./device-store.js";
import { isKept } from "./offline.js";
import { fieldsOf, keep as keepTap } from "./tap-queue.js";
import { say } from "./words.js";

const TYPING_MS = 250;
const MOST_WAIT_MS = 1500; // a form is sent even if the disk does not answer
const MOST_BYTES = 25_000_000; // of files in one form
const ONCE = new Set(["nonce", "once"]); // the form's key: with the same one, what arrived already counts once
const NOT_KEPT = new Set(["csrfmiddlewaretoken", "kept"]);
const NOT_SENT = "#not-sent"; // where the service worker leads back to
const like = document.querySelector("[data-like]"); // one page for many instruments: the address says which
const place = location.pathname + (like ? location.search : "");
const followed = new Map();
const $ = (selector, within = document) => within.querySelector(selector);

const isSecret = (one) => one.type === "password" || one.autocomplete === "one-time-code";
const inputsOf = (form) => [...form.elements].filter((one) => (
  one.name && one.type !== "submit" && !NOT_KEPT.has(one.name) && !isSecret(one)
));
const isChosen = (one) => one.type === "radio" || one.type === "checkbox";

/** name -> what stands there: texts, and Files. */
const valuesOf = (form) => {
  const names = new Set(inputsOf(form).map((one) => one.name));
  const values = Object.fromEntries([...names].map((name) => [name, []]));
  for (const [name, value] of new FormData(form)) {
    if (names.has(name) && !(value instanceof File && !value.size)) values[name].push(value);
  }
  return values;
};
const printOf = (values = []) => JSON.stringify(values.map((one) => (
  one instanceof File ? [one.name, one.size, one.lastModified] : one
)));

const bytesOf = (values) => Object.values(values).flat().reduce((sum, one) => sum + (one.size || 0), 0);

const titleOf = () => document.title.trim().split(" · ")[0].replace(/\s+/g, " ").slice(0, 80);

/** The address asks for something else than what was typed: lend to this student, not to the one of an hour ago. */
const isAskedOtherwise = (form, { values }) => !form.hasAttribute("data-keep-unseen")
  && [...new URLSearchParams(location.search)].some(([name, value]) => values[name]?.length && !values[name].includes(value));

const fillIn = (form, values) => {
  const filled = [];
  const turn = {};
  for (const one of inputsOf(form)) {
    const wanted = values[one.name];
    if (!wanted) continue;
    if (one.type === "file") {
      const files = new DataTransfer();
      wanted.filter((value) => value instanceof File).forEach((file) => files.items.add(file));
      one.files = files.files;
    } else if (isChosen(one)) one.checked = wanted.includes(one.value);
    else if (one.multiple && one.options) [...one.options].forEach((option) => { option.selected = wanted.includes(option.value); });
    else {
      turn[one.name] = (turn[one.name] ?? -1) + 1;
      if (turn[one.name] < wanted.length) one.value = wanted[turn[one.name]];
    }
    filled.push(one);
  }
  if (form.hasAttribute("data-keep-unseen")) {
    const here = new Set(inputsOf(form).map((one) => one.name));
    Object.entries(values).filter(([name]) => !here.has(name)).forEach(([name, [value]]) => {
      if (value !== undefined) form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
    });
  }
  filled.forEach((one) => {
    for (let fold = one.closest("details"); fold; fold = fold.parentElement.closest("details")) {
      if (one.type !== "hidden") fold.open = true;
    }
  });
};

/** Where a form is sent; a field may be called "action" or "id", so these are asked for as attributes. */
const actionOf = (form) => new URL(form.getAttribute("action") || location.href, location.href);

const nameOf = (form) => form.dataset.keep || form.getAttribute("id") || actionOf(form).pathname;

const follow = (form) => {
  const twins = [...followed.keys()].filter((one) => nameOf(one) === nameOf(form)).length;
  const own = { form, name: `${nameOf(form)}${twins || ""}`, key: newKey(), id: undefined, isSent: false };
  const before = valuesOf(form);
  let timer = 0;
  let line = Promise.resolve();

  const changed = (values) => [...new Set([...Object.keys(before), ...Object.keys(values)])]
    .filter((field) => own.isAnswered || printOf(before[field]) !== printOf(values[field]));

  const write = async (submitter) => {
    const values = valuesOf(form);
    const different = changed(values).filter((field) => !ONCE.has(field));
    if (!own.isSent && !different.length) {
      if (own.id !== undefined) await drop(own.id);
      own.id = undefined;
      return;
    }
    const isShort = bytesOf(values) > MOST_BYTES;
    if (isShort) Object.keys(values).forEach((field) => { values[field] = values[field].filter((one) => !(one instanceof File)); });
    own.id = await keep("form", {
      place, name: own.name, session, isShort, different, values,
      key: own.key, isSent: own.isSent, at: Date.now(), title: titleOf(), address: location.pathname + location.search,
      version: form.dataset.keepVersion ?? "", action: actionOf(form).href,
      by: submitter?.name ? [submitter.name, submitter.value] : own.by ?? null,
      queue: form.dataset.queue ?? "", label: submitter ? [submitter.textContent.trim().replace(/\s+/g, " ")] : [],
    }, { id: own.id });
  };
  own.save = (submitter) => { clearTimeout(timer); line = line.then(() => write(submitter), () => write(submitter)); return line; };
  own.later = () => { // at once, but photos are not encrypted again for every letter
    clearTimeout(timer);
    const hasFiles = inputsOf(form).some((one) => one.files?.length);
    timer = setTimeout(() => { timer = 0; own.save().catch(() => {}); }, hasFiles ? TYPING_MS : 0);
  };
  own.flush = () => (timer ? own.save() : line);
  own.forget = async () => {
    clearTimeout(timer);
    await line.catch(() => {});
    if (own.id !== undefined) await drop(own.id);
    Object.assign(own, { id: undefined, key: newKey(), isSent: false });
  };

  /** Fill in what an earlier visit left, and say so. */
  own.resume = (row) => {
    Object.assign(own, { id: row.id, key: row.key, isSent: row.isSent, by: row.by });
    const isSame = row.version === (form.dataset.keepVersion ?? "");
    const bound = new Set(isSame ? [] : inputsOf(form).filter((one) => "ofVersion" in one.dataset).map((one) => one.name));
    const lost = [...bound].some((field) => row.values[field]?.some(Boolean));
    const wanted = row.different.filter((field) => !bound.has(field) && (field in row.values));
    const once = row.isSent ? Object.keys(row.values).filter((field) => ONCE.has(field)) : [];
    fillIn(form, Object.fromEntries([...wanted, ...once].map((field) => [field, row.values[field]])));
    tell(row, own, { lost });
    form.dispatchEvent(new CustomEvent("filled-in", { bubbles: true }));
  };

  /** The page is the answer to this form: what stands in it is what was typed. */
  own.answered = (row) => {
    Object.assign(own, { id: row.id, key: row.key, isSent: false, isAnswered: true });
    own.save();
  };
  followed.set(form, own);
  return own;
};

// ---- what is said

const clock = (at) => new Date(at).toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });

const noticeOf = (selector) => $(selector).content.firstElementChild.cloneNode(true);

const tell = (row, own, { lost }) => {
  const notice = noticeOf("template[data-filled-in]");
  const words = say(row.isSent ? "filled-in-sent" : "filled-in", { time: clock(row.at) });
  $("[data-filled-in-says]", notice).textContent = words;
  const more = [row.isShort && say("files-again"), lost && say("sign-again")].filter(Boolean);
  $("[data-filled-in-more]", notice).textContent = more.join(" ");
  $("button", notice).addEventListener("click", async () => { await own.forget(); location.reload(); });
  own.form.before(notice);
  if (row.isSent) notice.scrollIntoView({ block: "center" });
  window.hornbook?.announce(words);
};

/** What waits elsewhere: forms that are from an earlier log-in or were sent and never answered. */
const tellElsewhere = (rows) => {
  const lines = rows.filter((row) => row.isSent || row.session !== session);
  if (!lines.length) return;
  const notice = noticeOf("template[data-elsewhere]");
  const list = $("ul", notice);
  const plain = list.removeChild(list.firstElementChild);
  lines.forEach((one) => {
    const item = plain.cloneNode(true);
    Object.assign($("a", item), { href: one.address, textContent: one.title });
    $("button", item).addEventListener("click", async () => {
      await drop(one.id);
      item.remove();
      if (!list.children.length) notice.remove();
    });
    list.append(item);
  });
  $("main").prepend(notice);
};

// ---- the server has it

const SAVED = /^saved-([0-9a-f-]{36})=/;

/** The keys of the forms that the server says it has; each is told once. */
const saved = () => document.cookie.split("; ").map((one) => SAVED.exec(one)?.[1]).filter(Boolean);

const dropSaved = async (rows) => {
  const keys = new Set(saved());
  for (const row of rows.filter((one) => keys.has(one.key))) await drop(row.id);
  keys.forEach((key) => { document.cookie = `saved-${key}=; path=/; max-age=0`; });
  return rows.filter((one) => !keys.has(one.key));
};

// ---- a form marked data-queue that was sent without a signal: it goes out by itself, and its page waits for the answer

const queueSent = async (rows) => {
  if (!isKept && location.hash !== NOT_SENT) return rows;
  for (const row of rows.filter((one) => one.isSent && one.queue)) {
    const { id, ...form } = row;
    await keepTap({
      walk: row.address, home: row.address, title: row.queue, url: row.action, key: row.key, row: form, tap: "form", says: row.label,
    });
    await drop(id);
  }
  if (location.hash === NOT_SENT) {
    history.replaceState(history.state, "", location.pathname + location.search);
    if (!rows.some((one) => one.isSent && one.place === place)) window.hornbook?.trouble(say("no-signal"));
  }
  return rows.filter((one) => !(one.isSent && one.queue));
};

// ---- for the log-out: what waits, and sending it

/** All forms of this person that wait on this device. */
export const keptForms = async () => {
  await Promise.all([...followed.values()].map((own) => own.flush().catch(() => {})));
  return dropSaved(await kept("form"));
};

/** Send a form as it was sent before, by the same button and with the same key. Returns whether the server has it. */
export const sendForm = async (row, token) => {
  const body = new FormData();
  fieldsOf(row).forEach(([name, value]) => body.append(name, value));
  body.set("csrfmiddlewaretoken", token);
  body.set("kept", row.key);
  try {
    await fetch(row.action, { method: "POST", body, credentials: "same-origin" });
  } catch { return false; }
  return saved().includes(row.key);
};

// ---- start

/** A form for every instrument built alike goes to the one at hand. */
const nameFor = (form) => {
  const number = new URLSearchParams(location.search).get("number") ?? "";
  const [from, to] = [form.dataset.like, number];
  document.querySelectorAll("[data-number-here]").forEach((one) => { one.textContent = number; });
  form.setAttribute("action", form.getAttribute("action").replace(encodeURIComponent(from), encodeURIComponent(to)));
  form.dataset.queue = form.dataset.queue.replace(from, to);
  form.elements.nonce.value = newKey();
};

export const startForms = async () => {
  if (!person) return;
  // The browser's own memory of what was typed outlives a log-out; ours does not.
  document.querySelectorAll("form").forEach((form) => { form.autocomplete = "off"; });
  if (like?.matches("form")) nameFor(like);
  if (isKept) document.querySelectorAll("form[data-queue] [name=nonce]").forEach((one) => { one.value = newKey(); });
  document.querySelectorAll("[data-of-address]").forEach((one) => {
    one.value = new URLSearchParams(location.search).get(one.name) ?? one.value;
  });
  const forms = [...document.querySelectorAll("form[data-keep]:not([hx-post])")].map(follow);

  const ownOf = (event) => followed.get(event.target.form ?? event.target.closest?.("form"));
  for (const happening of ["input", "reset"]) document.addEventListener(happening, (event) => ownOf(event)?.later());
  for (const happening of ["change", "signed"]) document.addEventListener(happening, (event) => ownOf(event)?.save().catch(() => {}));
  document.addEventListener("taken", (event) => ownOf(event)?.forget());
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "hidden") followed.forEach((own) => own.flush().catch(() => {}));
  });

  // Sent only once it is kept. The first of everybody who listens: for the others it is sent when it is sent again.
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    const own = followed.get(form);
    if (!own || form.matches("[data-tap]") || own.isReady || !form.requestSubmit) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (own.isKeeping) return;
    own.isKeeping = true;
    own.isSent = true;
    const { submitter } = event;
    const stop = new Promise((resolve) => { setTimeout(resolve, MOST_WAIT_MS); });
    await Promise.race([own.save(submitter).catch(() => {}), stop]);
    $("input[name=kept]", form)?.remove();
    form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "kept", value: own.key }));
    own.isReady = true;
    form.requestSubmit(submitter);
    own.isReady = own.isKeeping = false;
  }, true);

  await waiting(); // deletes what is past its time
  let rows = await queueSent(await dropSaved(await kept("form")));
  const answered = rows.find((row) => row.key === document.body.dataset.answered);
  for (const own of forms) {
    const row = answered?.name === own.name ? answered
      : rows.findLast((one) => one.place === place && one.name === own.name && !isAskedOtherwise(own.form, one));
    if (!row) continue;
    rows = rows.filter((one) => one !== row);
    if (row === answered) own.answered(row);
    else own.resume(row);
  }
  tellElsewhere(rows.filter((row) => row !== answered));
  if (forms.length && !isOnDisk()) $("main").prepend(noticeOf("template[data-not-kept]"));
  document.body.dataset.filledIn = "yes";
  document.dispatchEvent(new Event("forms-ready"));
};
