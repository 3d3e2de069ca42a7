// Shared behaviour of every page. Each page works without it; this makes it quicker and says aloud what changed.
import { say } from "./words.js";

(() => {
  const live = () => document.getElementById("live");

  /** Say a sentence to screen readers. */
  const announce = (text) => {
    const region = live();
    if (!region) return;
    region.textContent = "";
    setTimeout(() => { region.textContent = text; }, 60);
  };

  /** Put a sentence where everybody sees it, until the next act works. */
  const trouble = (text) => {
    const box = document.getElementById("live-error");
    if (box) box.textContent = text;
  };

  // After a fragment is swapped in: say its result, and bring the focus to the first error.
  document.addEventListener("htmx:afterSettle", (event) => {
    trouble("");
    const said = event.target.matches?.("[data-announce]") ? event.target : event.target.querySelector?.("[data-announce]");
    if (said) announce(said.textContent.trim());
    event.target.querySelector?.("[data-focus]")?.focus();
  });
  document.addEventListener("htmx:sendError", () => {
    trouble(say("unreachable"));
  });
  document.addEventListener("htmx:responseError", (event) => {
    const status = event.detail.xhr.status;
    trouble(say(status === 404 ? "gone" : status === 403 ? "not-allowed" : "broken"));
  });

  // A form marked data-once is sent once, however often it is tapped.
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-once]")) return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "1";
    form.setAttribute("aria-busy", "true");
  });
  const free = (form) => { delete form.dataset.sent; form.removeAttribute("aria-busy"); };
  document.addEventListener("htmx:afterRequest", (event) => {
    const form = event.target.closest?.("form[data-once]");
    if (form) free(form);
  });
  addEventListener("pageshow", () => document.querySelectorAll("form[data-once]").forEach(free));

  // The Enter key in a search box is a submit, a change, and the end of typing: the same question is sent once.
  const AGAIN_MS = 1000;
  const sent = new WeakMap();
  document.addEventListener("htmx:configRequest", (event) => {
    const form = event.detail.elt;
    if (!form.matches?.("form.filters")) return;
    const asked = JSON.stringify(event.detail.parameters);
    const last = sent.get(form);
    if (last?.asked === asked && event.timeStamp - last.at < AGAIN_MS) { event.preventDefault(); return; }
    sent.set(form, { asked, at: event.timeStamp });
  });
  document.addEventListener("htmx:afterRequest", (event) => {
    if (!event.detail.successful) sent.delete(event.detail.elt);
  });

  // Filters send themselves where htmx does not already do it.
  document.addEventListener("change", (event) => {
    const form = event.target.form;
    if (form?.matches("[data-autosubmit]")) form.requestSubmit();
  });

  // On a phone the filters of a list are behind a button.
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-opens=filters]");
    if (!button) return;
    const isOpen = button.form.classList.toggle("is-open");
    button.setAttribute("aria-expanded", String(isOpen));
  });

  // The menu closes on Escape and on a tap elsewhere.
  const menus = () => document.querySelectorAll("details.menu[open]");
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    menus().forEach((menu) => { menu.open = false; menu.querySelector("summary").focus(); });
  });
  document.addEventListener("click", (event) => {
    menus().forEach((menu) => { if (!menu.contains(event.target)) menu.open = false; });
    if (event.target.closest?.("[data-print]")) window.print();
  });

  // At a desk one prints: photos in a fold, or far down, would be blank on paper. A phone fetches those that are looked at.
  if (matchMedia("(hover: hover) and (pointer: fine)").matches) {
    addEventListener("load", () => document.querySelectorAll("main img[loading=lazy]").forEach((one) => { one.loading = "eager"; }));
  }

  // Say when there is no connection.
  const mark = () => document.documentElement.classList.toggle("is-offline", !navigator.onLine);
  addEventListener("online", mark);
  addEventListener("offline", mark);
  mark();

  document.querySelector("[data-focus]")?.focus();
  window.hornbook = Object.freeze({ announce, trouble });
})();
