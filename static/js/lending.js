// Lend and take back, quicker: find the student by typing, count everything in one tap, show what fits the player.
// Without this file the page has a plain list, a tick and numbers, and works.
import { say } from "./words.js";

const MOST_SHOWN = 6;

const plain = (text) => text.normalize("NFD").replace(/\p{Diacritic}/gu, "").toLowerCase();

/** Turn a select into a field that one types into; the select stays the form's field. */
const studentPicker = (select) => {
  const people = [...select.options].filter((option) => option.value);
  if (people.length <= MOST_SHOWN) return;
  const field = document.createElement("input");
  const list = document.createElement("ul");
  Object.assign(field, { type: "search", autocomplete: "off", id: `${select.id}_find`, placeholder: say("type-a-name") });
  Object.assign(list, { className: "pick-list", id: `${select.id}_list` });
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", say("students"));
  const state = { role: "combobox", "aria-expanded": "false", "aria-controls": list.id, "aria-autocomplete": "list" };
  Object.entries(state).forEach(([name, value]) => field.setAttribute(name, value));
  document.querySelector(`label[for="${select.id}"]`)?.setAttribute("for", field.id);
  select.hidden = true;
  select.after(field, list);
  let shown = [];
  let at = -1;

  const mark = () => [...list.children].forEach((item, index) => {
    item.setAttribute("aria-selected", index === at ? "true" : "false");
    if (index === at) field.setAttribute("aria-activedescendant", item.id);
  });
  const close = () => {
    list.replaceChildren();
    shown = [];
    at = -1;
    field.setAttribute("aria-expanded", "false");
    field.removeAttribute("aria-activedescendant");
  };
  const choose = (option) => {
    select.value = option ? option.value : "";
    if (option) field.value = option.text.trim();
    close();
    select.dispatchEvent(new Event("change", { bubbles: true }));
  };
  const search = () => {
    const words = plain(field.value).split(/\s+/).filter(Boolean);
    shown = words.length
      ? people.filter((option) => words.every((word) => plain(option.text).includes(word))).slice(0, MOST_SHOWN)
      : [];
    at = shown.length ? 0 : -1;
    list.replaceChildren(...shown.map((option, index) => {
      const item = document.createElement("li");
      item.id = `${list.id}_${index}`;
      item.setAttribute("role", "option");
      item.textContent = option.text;
      // The field keeps the focus; chosen only when the finger lifts, or the rest of its tap would hit what lies below.
      item.addEventListener("mousedown", (event) => event.preventDefault());
      item.addEventListener("click", () => choose(option));
      return item;
    }));
    field.setAttribute("aria-expanded", shown.length ? "true" : "false");
    mark();
    if (words.length && !shown.length) window.hornbook?.announce(say("nobody"));
  };
  field.addEventListener("input", () => { if (select.value) choose(null); search(); });
  field.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && shown.length) { event.preventDefault(); choose(shown[at]); }
    if (event.key === "Escape") close();
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step && shown.length) { event.preventDefault(); at = (at + step + shown.length) % shown.length; mark(); }
  });
  field.addEventListener("blur", close);
  const name = () => { if (select.value) field.value = select.selectedOptions[0].text.trim(); };
  select.form.addEventListener("filled-in", name);
  name();
};

/** The guardian's name follows the student; so does the line that says how the limits fit. */
const followStudent = (select) => {
  const signer = document.getElementById("id_guardian_signer");
  const typedGuardian = document.getElementById("id_new_guardian_name");
  const typedName = document.getElementById("id_new_name");
  const level = document.getElementById("id_new_level");
  const who = document.getElementById("id_new_who");
  const hide = (what, isHidden) => document.querySelectorAll(what).forEach((part) => { part.hidden = isHidden; });
  const show = () => {
    const chosen = select.value ? select.selectedOptions[0] : null;
    if (chosen && signer && !signer.dataset.typed) signer.value = chosen.dataset.guardian ?? "";
    const addsAdult = Boolean(who) && who.value !== "student";
    const isAdult = chosen ? Boolean(chosen.dataset.adult) : addsAdult && Boolean(typedName?.value);
    hide("[data-of-student]", addsAdult);
    hide("[data-of-guardian]", isAdult);
    hide("[data-of-adult]", !isAdult);
    const plays = chosen ? chosen.dataset.level : level?.value;
    document.querySelectorAll("[data-fit]").forEach((line) => {
      line.hidden = line.dataset.fit !== plays || !(select.value || typedName?.value);
    });
  };
  signer?.addEventListener("input", () => { signer.dataset.typed = "1"; });
  typedGuardian?.addEventListener("input", () => {
    if (signer && !signer.dataset.typed) signer.value = typedGuardian.value;
  });
  typedName?.addEventListener("input", show);
  level?.addEventListener("change", show);
  who?.addEventListener("change", show);
  select.addEventListener("change", show);
  const asTyped = () => {
    if (signer?.value) signer.dataset.typed = "1";
    show();
  };
  select.form.addEventListener("filled-in", asTyped);
  asTyped();
};

/** "All here" fills in every number; a number that says otherwise takes the tick away. */
const countAll = (tick) => {
  const numbers = [...document.querySelectorAll("input[data-expected]")];
  tick.addEventListener("change", () => {
    if (tick.checked) numbers.forEach((number) => { number.value = number.dataset.expected; });
  });
  numbers.forEach((number) => number.addEventListener("input", () => {
    tick.checked = numbers.every((one) => one.value === one.dataset.expected);
  }));
};

document.querySelectorAll("select[data-picker]").forEach((select) => {
  studentPicker(select);
  followStudent(select);
});
document.querySelectorAll("[data-all-here]").forEach(countAll);
