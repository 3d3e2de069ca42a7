// One box, scan after scan: each is sent in its turn while the next is read, and what could not be sent waits here.
//
// Without a signal it joins what waits on the device, which every page sends.
import { newKey } from "./device-store.js";
import { keep } from "./tap-queue.js";
import { say } from "./words.js";

const form = document.querySelector("[data-scan-line]");

if (form && window.htmx) {
  const box = form.elements.text;
  const source = document.getElementById("main"); // outside the form, whose box is empty again by then
  const waiting = [];
  let isSending = false;

  const wait = (values) => keep({
    walk: form.action, home: location.pathname, title: form.dataset.queue, url: form.action, key: newKey(),
    fields: Object.entries(values).filter(([name]) => name !== "csrfmiddlewaretoken"), tap: "scan", part: "", says: [values.text],
  });
  document.addEventListener("tap-done", ({ detail }) => {
    if (detail.tap.walk === form.action) htmx.trigger("#running", "again");
  });

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
      if (!status && form.dataset.queue) {
        await wait(values);
        hornbook.trouble(""); // it waits here: the line at the top says so
      }
      else if (!status || status >= 500) break;
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
