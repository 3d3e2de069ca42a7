// Logging out destroys what this person kept on this device, and first offers to send what waits. Without a signal nobody is
// logged out: the page says so, shows nothing else, and logs out once it gets through.
import { destroy, person } from "./device-store.js";
import { keptForms, sendForm } from "./kept-forms.js";
import { sendNow } from "./sending.js";
import { kept as keptTaps, refused } from "./tap-queue.js";
import { say } from "./words.js";

const dialog = document.querySelector("dialog[data-waits]");
const $ = (name) => dialog.querySelector(`[data-waits-${name}]`);
const AGAIN_MS = 5000;
const others = "BroadcastChannel" in window ? new BroadcastChannel("hornbook-log-out") : null;
let leaving = null; // the form that logs out
let left; // how many rows of others stay, once this person's are destroyed

const forget = async () => {
  const left = await destroy().catch(() => 1);
  localStorage.clear();
  sessionStorage.clear();
  for (const name of (await globalThis.caches?.keys().catch(() => [])) ?? []) await caches.delete(name);
  return left;
};

const leave = async () => {
  left ??= await forget();
  const body = new FormData(leaving);
  if (!left) body.set("clear", "1"); // nobody else's things wait here: the browser may throw away all it has of this address
  const answer = await fetch(leaving.action, { method: "POST", body, redirect: "manual", credentials: "same-origin" }).catch(() => null);
  if (!answer) {
    dialog.close();
    leaving.closest("details")?.removeAttribute("open");
    document.querySelector("main").replaceChildren();
    window.hornbook?.trouble(say("not-logged-out"));
    setTimeout(leave, AGAIN_MS);
    return;
  }
  if (answer.status >= 400) { leaving.submit(); return; } // the server's page says what is wrong
  others?.postMessage(person); // only now do their pages lead to the log-in
  location.replace(leaving.dataset.logOut);
};

const show = async (words = "") => {
  const [forms, taps] = [await keptForms(), [...await keptTaps(), ...await refused()]];
  const count = forms.length + taps.length;
  if (!count) { leave(); return; }
  $("title").textContent = say(count === 1 ? "one-waits" : "several-wait", { count });
  const walks = new Map(taps.map((tap) => [tap.home, { title: tap.title, address: tap.home }]));
  $("list").replaceChildren(...[...forms, ...walks.values()].map((one) => {
    const item = document.createElement("li");
    item.append(Object.assign(document.createElement("a"), { className: "link", href: one.address, textContent: one.title }));
    return item;
  }));
  $("says").textContent = words || (forms.some((row) => !row.isSent) ? say("look-first") : "");
  if (!dialog.open) dialog.showModal();
};

const sendAll = async () => {
  const token = leaving.querySelector("input[name=csrfmiddlewaretoken]").value;
  await sendNow();
  for (const row of (await keptForms()).filter((one) => one.isSent)) await sendForm(row, token);
  show([...(await refused()).map((one) => one.why), say("not-all-sent")].join(" "));
};

export const startLogOut = () => {
  if (!person || !dialog) return;
  document.addEventListener("submit", (event) => {
    if (!event.target.matches("[data-log-out]")) return;
    event.preventDefault();
    leaving = event.target;
    show().catch(leave);
  });
  $("send").addEventListener("click", sendAll);
  $("discard").addEventListener("click", leave);
  $("stay").addEventListener("click", () => dialog.close());
  // Logged out in another tab: nothing of theirs stays in this one.
  others?.addEventListener("message", async (event) => {
    if (event.data !== person) return;
    await forget();
    location.reload();
  });
};
