// Checked rows of a list: all of a page at once, a run of them with the Shift key, and how many there are.
import { say } from "./words.js";

const boxes = () => [...document.querySelectorAll("tbody .pick input")];
const every = () => document.querySelector("[data-pick-all]");
let last = null;

const tell = (isSaid) => {
  const shown = document.querySelector("[data-picked-count]");
  if (!shown) return; // nobody but who may act on rows picks them
  const all = boxes();
  const count = all.filter((box) => box.checked).length;
  const words = count === 1 ? say("one-picked") : say("picked", { count });
  shown.textContent = words;
  const head = every();
  if (head) {
    head.checked = count > 0 && count === all.length;
    head.indeterminate = count > 0 && count < all.length;
  }
  if (isSaid) window.hornbook.announce(words);
};

document.addEventListener("click", (event) => {
  const box = event.target;
  if (box.matches?.("[data-pick-all]")) {
    boxes().forEach((one) => { one.checked = box.checked; });
  } else if (box.matches?.("tbody .pick input")) {
    const all = boxes();
    const [from, to] = [all.indexOf(last), all.indexOf(box)].sort((a, b) => a - b);
    if (event.shiftKey && from >= 0) all.slice(from, to + 1).forEach((one) => { one.checked = box.checked; });
    last = box;
  } else if (box.matches?.("[data-opens=picks]")) {
    const isOpen = box.closest(".table-wrap").classList.toggle("is-picking");
    box.setAttribute("aria-pressed", String(isOpen));
    return;
  } else {
    return;
  }
  tell(true);
});
document.addEventListener("reset", (event) => {
  if (event.target.id === "picked") setTimeout(() => { boxes()[0]?.focus(); tell(true); });
});
document.addEventListener("htmx:afterSettle", () => tell(false));
addEventListener("pageshow", () => tell(false));
tell(false);
