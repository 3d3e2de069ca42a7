// One box, scan after scan: each is sent in its turn while the next is read, and what could not be sent waits here.
import { say } from "./words.js";

const form = document.querySelector("[data-scan-line]");

if (form && window.htmx) {
  const box = form.elements.text;
  const source = document.getElementById("main"); // outside the form, whose box is empty again by then
  const waiting = [];
  let isSending = false;

  const send = async () => {
    if (isSending) return;
    isSending = true;
    while (waiting.length) {
      const values = waiting[0];
      let status = 0;
      const note = (event) => { status = event.detail.xhr.status; };
      source.addEventListener("htmx:afterRequest", note, { once: true });
      try {
        await htmx.ajax("POST", form.action, { source, values, target: "#running", swap: "outerHTML" });
      } catch { /* said by the page */ }
      source.removeEventListener("htmx:afterRequest", note);
      if (!status || status >= 500) break;
      waiting.shift();
    }
    isSending = false;
    if (waiting.length) hornbook.trouble(say("waiting", { what: waiting.map((one) => one.text).join(", ") }));
  };

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const values = Object.fromEntries(new FormData(form));
    box.value = "";
    if (form.elements.scanned) form.elements.scanned.value = "";
    box.focus();
    if (values.text.trim()) waiting.push(values);
    send();
  });
  addEventListener("online", send);
}
