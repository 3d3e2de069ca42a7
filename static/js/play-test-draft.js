// What was marked in a play test, kept on this phone until it is saved: through a reload, a step back, another level, a lock.
import { say } from "./words.js";

const HOURS = 12;
const NOT_KEPT = new Set(["csrfmiddlewaretoken", "nonce", "level"]);

/**
 * Keep the form's fields as they change; put back what an earlier visit left. A form that was refused has them already, and
 * one that was sent is done with once the instrument has another test (``data-tests`` counts them).
 */
export const keepDraft = (form) => {
  const name = `play-test:${location.pathname}`;
  const read = () => {
    try {
      const draft = JSON.parse(localStorage.getItem(name) || "null");
      const isSaved = draft?.isSent && draft.tests !== form.dataset.tests;
      return draft && !isSaved && Date.now() - draft.at < HOURS * 3_600_000 ? draft.fields : {};
    } catch { return {}; }
  };
  const before = form.hasAttribute("data-refused") ? {} : read();

  for (const [field, value] of Object.entries(before)) {
    const inputs = [...form.elements].filter((one) => one.name === field);
    if (!inputs.length) { // a note of another level: it goes along unseen
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name: field, value }));
    }
    for (const one of inputs) {
      if (one.type === "radio" || one.type === "checkbox") one.checked = value === one.value;
      else one.value = value;
    }
  }

  const keep = (isSent = false) => {
    const fields = Object.fromEntries([...new FormData(form)].filter(([field]) => !NOT_KEPT.has(field)));
    try { localStorage.setItem(name, JSON.stringify({ at: Date.now(), tests: form.dataset.tests, isSent, fields })); } catch { /* a full or closed store */ }
  };
  form.addEventListener("input", () => keep());
  form.addEventListener("change", () => keep());
  form.addEventListener("submit", () => keep(true));
  if (Object.keys(before).length) window.hornbook?.announce(say("still-here"));
};
