// Keys instead of a mouse. An element names its key in data-key; it is shown on it where a mouse points. A key acts never while
// one types, never with another held down, and not at all where single keys are off: "Your log-in" sets a cookie, which,
// unlike what is stored here, outlives a log-out; so are letters of one's own choosing. Arrows move between the rows of a table and the choices of a data-roving list.
const OFF = "single_keys=off";
const OWN = "own_keys";
const YEAR_S = 31_536_000;
const ROWS = { ArrowDown: 1, ArrowUp: -1, Home: -Infinity, End: Infinity };
const FIELD = "textarea, select, input:not([type=radio], [type=checkbox], [type=submit], [type=button])";
const tick = document.querySelector("[data-single-keys]");
const ownFields = [...document.querySelectorAll("[data-own-key]")];
const cookies = () => document.cookie.split("; ");
const isOn = () => !cookies().includes(OFF);
const remember = (pair, seconds = YEAR_S) => {
  const secure = location.protocol === "https:" ? "; secure" : "";
  document.cookie = `${pair}; max-age=${seconds}; path=/; samesite=lax${secure}`;
};
const readOwn = () => {
  try { return JSON.parse(decodeURIComponent(cookies().find((one) => one.startsWith(`${OWN}=`)).slice(OWN.length + 1))); } catch { return {}; }
};
const own = readOwn();
const keyOf = (one) => own[one.dataset.key] ?? one.dataset.key;
const isTyping = (one) => one.isContentEditable || one.matches?.(FIELD);
const controlOf = (one) => one.control ?? one;

// The sign is drawn by the style sheet from data-shown, so that it is in no button's name or text.
const show = () => {
  document.querySelectorAll("kbd[data-shown]").forEach((sign) => sign.remove());
  document.querySelectorAll("[data-key]:not([data-key=''])").forEach((one) => {
    controlOf(one).removeAttribute("aria-keyshortcuts");
    if (!isOn()) return;
    controlOf(one).setAttribute("aria-keyshortcuts", keyOf(one));
    const sign = document.createElement("kbd");
    sign.dataset.shown = keyOf(one);
    sign.ariaHidden = "true";
    if (one.matches(FIELD)) one.after(sign); else one.append(sign);
  });
};

/** What the key stands on: seen, in the dialog if one is open, and not chosen already. */
const find = (key) => {
  const page = document.querySelector("dialog[open]") ?? document;
  return [...page.querySelectorAll("[data-key]")].filter((one) => keyOf(one) === key).find((one) => {
    const { disabled, type, checked } = controlOf(one);
    return one.checkVisibility() && !disabled && !(type === "radio" && checked);
  });
};

const isOfPage = (key) => [...document.querySelectorAll("[data-key]")].some((one) => keyOf(one) === key);

const press = (event) => {
  const isLetter = event.key.toLowerCase() !== event.key.toUpperCase();
  if (event.key.length !== 1 || event.repeat || (event.shiftKey && isLetter) || isTyping(event.target) || !isOn()) return;
  const key = event.key.toUpperCase();
  if (answers ? !isOfPage(key) : !find(key)) return;
  event.preventDefault();
  if (answers) held.push(key); else act(key);
};

const act = (key) => {
  const one = find(key);
  if (!one) return;
  const control = controlOf(one);
  if (control.matches(FIELD)) { control.focus(); control.select(); return; }
  control.focus({ preventScroll: true });
  control.click();
};

// While an answer is being taken, what the next key stands on may not be seen yet: it waits.
let answers = 0;
const held = [];
document.addEventListener("answering", ({ detail }) => {
  const next = () => {
    answers -= 1;
    while (!answers && held.length) act(held.shift());
  };
  answers += 1;
  detail.then(next, next);
});

const from = (list, one, step) => list[Math.min(list.length - 1, Math.max(0, list.indexOf(one) + step))];

const IN_ROW = "a, .pick input";

/** The link or box in the same column of another row, or else its first link. */
const moveRow = (event) => {
  const row = event.target.matches(IN_ROW) && event.target.closest("tbody > tr");
  if (!row || !(event.key in ROWS)) return;
  const rows = [...row.parentElement.rows].filter((other) => other.querySelector("a"));
  const other = from(rows, row, ROWS[event.key]);
  event.preventDefault();
  (other.cells[event.target.closest("td, th").cellIndex]?.querySelector(IN_ROW) ?? other.querySelector("a")).focus();
};

/** Choosing closes such a list: arrows only move the focus, Enter chooses as Space does. */
const rove = (event) => {
  const list = event.target.matches("[type=radio]") && event.target.closest("[data-roving]");
  if (!list) return;
  if (event.key === "Enter") { event.preventDefault(); event.target.click(); return; }
  if (!(event.key in ROWS)) return;
  event.preventDefault();
  const choices = [...list.querySelectorAll(`[name="${event.target.name}"]`)].filter((one) => one.checkVisibility());
  from(choices, event.target, ROWS[event.key]).focus();
};

document.addEventListener("keydown", (event) => {
  if (typeof event.key !== "string") return; // the browser fills in a field by itself
  if (event.defaultPrevented || event.isComposing || event.ctrlKey || event.altKey || event.metaKey) return;
  if (!event.shiftKey && event.target.matches) { moveRow(event); rove(event); }
  if (!event.defaultPrevented) press(event);
});
document.addEventListener("htmx:afterSettle", show);
if (tick) {
  tick.checked = isOn();
  tick.closest("[hidden]").hidden = false;
  tick.addEventListener("change", () => {
    remember(OFF, tick.checked ? 0 : YEAR_S);
    show();
  });
}
/** Digits choose from lists. Whatever has the key chosen takes the one that becomes free, so that no two are the same. */
const choose = ({ target }) => {
  const key = target.value.trim().toUpperCase(), mine = target.dataset.ownKey;
  if (key.length === 1 && !/[\d\s]/.test(key)) {
    const holder = Object.keys(own).find((one) => own[one] === key) ?? key;
    own[holder] = own[mine] ?? mine;
    own[mine] = key;
    remember(`${OWN}=${encodeURIComponent(JSON.stringify(own))}`);
  }
  fillOwn();
  show();
};
const fillOwn = () => ownFields.forEach((one) => { one.value = own[one.dataset.ownKey] ?? one.dataset.ownKey; });
fillOwn();
ownFields.forEach((one) => {
  one.addEventListener("focus", () => one.select());
  one.addEventListener("change", choose);
});
show();
