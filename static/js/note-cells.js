// The notes of a play test as a strip of cells. By hand a tap changes a note's state; while the phone listens it goes to the
// note. What is posted stays in the fields of the list, which is marked by hand where there is no script.
import { say } from "./words.js";

const STATES = ["", "weak", "failed", "untried"];
const MOVES = { ArrowRight: 1, ArrowLeft: -1, Home: -Infinity, End: Infinity };

export const signed = (cents) => `${cents > 0 ? "+" : cents < 0 ? "−" : ""}${Math.abs(cents).toFixed(0)}`;

const chosen = (line) => line.querySelector(".note-states input:checked");
export const stateOf = (line) => chosen(line)?.value ?? "";
export const centsOf = (line) => line.querySelector(".note-cents input");
export const mark = (line, state) => { line.querySelector(`.note-states input[value="${state}"]`).checked = true; };
/** The note and its state in words: "D4: weak". */
export const said = (line) => `${line.dataset.shown}: ${chosen(line)?.labels[0].textContent.trim() ?? ""}`;

export const noteCells = (form) => {
  const $ = (name) => form.querySelector(`[data-cells${name}]`);
  const lines = [...form.querySelectorAll("[data-note]")];
  const list = form.querySelector(".note-list");
  const strip = $("");
  const blank = form.querySelector("[data-cell]").content.firstElementChild;
  const buttons = lines.map((line) => {
    const button = blank.cloneNode(true);
    button.querySelector(".cell-name").textContent = line.dataset.shown;
    button.dataset.expected = line.querySelector("[data-expected]")?.dataset.expected ?? "";
    return button;
  });
  let at = 0;
  let jump = null; // what a tap does while the phone listens

  const draw = () => lines.forEach((line, i) => {
    const cents = centsOf(line)?.value ?? "";
    const expected = line.querySelector("[data-expected]")?.textContent.trim();
    const heard = cents === "" ? "" : say("cents", { cents: signed(Number(cents)) });
    buttons[i].dataset.state = stateOf(line);
    buttons[i].ariaLabel = [said(line), heard, expected].filter(Boolean).join(", ");
    buttons[i].querySelector(".cell-cents").textContent = cents === "" ? "" : signed(Number(cents));
  });

  const select = (to) => {
    at = Math.min(lines.length - 1, Math.max(0, to));
    lines.forEach((line, i) => {
      line.toggleAttribute("data-now", i === at);
      buttons[i].ariaCurrent = i === at ? "true" : null;
      buttons[i].tabIndex = i === at ? 0 : -1;
    });
    if (jump) strip.scrollLeft = buttons[at].offsetLeft - (strip.clientWidth - buttons[at].offsetWidth) / 2;
  };

  const change = (line) => {
    mark(line, STATES[(STATES.indexOf(stateOf(line)) + 1) % STATES.length]);
    chosen(line).dispatchEvent(new Event("change", { bubbles: true })); // drawn again, and kept on the device
    window.hornbook?.announce(said(line));
  };

  strip.addEventListener("click", ({ target }) => {
    const to = buttons.indexOf(target.closest("button"));
    if (to < 0) return;
    if (jump) { jump(to); return; }
    select(to);
    change(lines[to]);
  });
  strip.addEventListener("focusin", ({ target }) => { if (!jump) select(buttons.indexOf(target)); });
  strip.addEventListener("keydown", (event) => {
    if (!(event.key in MOVES)) return;
    event.preventDefault();
    const to = buttons.indexOf(event.target) + MOVES[event.key];
    buttons[Math.min(lines.length - 1, Math.max(0, to))].focus();
  });
  form.querySelectorAll("[data-cells-step]").forEach((button) => {
    button.hidden = !list.querySelector(".note-cents");
    button.addEventListener("click", () => {
      select(at + Number(button.dataset.cellsStep));
      window.hornbook?.announce(said(lines[at]));
    });
  });
  list.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !event.target.matches(".note-cents input")) return;
    event.preventDefault(); // on to the next note's cents, not off with the form
    event.target.blur();
    select(at + 1);
    centsOf(lines[at]).focus();
    centsOf(lines[at]).select();
  });
  form.addEventListener("change", ({ target }) => {
    const line = target.closest("[data-note]");
    if (line && target === centsOf(line) && target.value && stateOf(line) === "untried") mark(line, ""); // it was played
    draw();
  });
  form.addEventListener("filled-in", draw);

  strip.append(...buttons);
  list.classList.add("is-one");
  $("-part").hidden = false;
  draw();
  select(0);
  return {
    lines,
    draw,
    select,
    /** Show the strip in another place, where a tap does something else, until it goes home. */
    lend: (place, act) => { jump = act; place.append(strip); },
    goHome: () => { jump = null; $("-home").append(strip); },
  };
};
