// The tech's page: how long a started step has been running (meanwhile the screen stays on), and without a signal the step behind
// one that is done. Everything else works without script.
import { kept } from "./device-store.js";
import { say } from "./words.js";

const clock = document.querySelector("[data-since]");

if (clock) {
  const since = new Date(clock.dataset.since);
  const said = clock.textContent;
  const tick = () => {
    const minutes = Math.max(0, Math.floor((Date.now() - since.getTime()) / 60000));
    const hours = Math.floor(minutes / 60);
    clock.textContent = say(hours ? "hours-ago" : "minutes-ago", { said, hours, minutes: minutes % 60 });
  };
  tick();
  setInterval(tick, 20000);
  // The browser lets go of it whenever another page is looked at; where it refuses, the screen goes dark as ever.
  const stayOn = () => document.visibilityState === "visible" && navigator.wakeLock?.request("screen").catch(() => {});
  stayOn();
  document.addEventListener("visibilitychange", stayOn);
}

const DONE = new Set(["done", "freed"]); // after any other outcome only the server knows what comes next
const step = document.getElementById("step");

/** This page's step was recorded on the phone: go to the next of the plan that is kept here. */
const goOn = async () => {
  if (!step) return; // a play test has none
  const { pathname } = new URL(step.action);
  const ended = new Map((await kept("tap")).filter((tap) => tap.row && new URL(tap.url).pathname === pathname)
    .map(({ row }) => [row.values.step[0], row.by?.[1]]));
  const outcome = ended.get(step.elements.step.value);
  if (!outcome) return;
  const [held] = await kept("held");
  const next = [...document.querySelectorAll("[data-ahead]")]
    .sort((one, other) => one.dataset.ahead - other.dataset.ahead)
    .find((link) => link.getAttribute("href") in (held?.pages ?? {}) && !ended.has(new URL(link.href).searchParams.get("step")));
  if (next && DONE.has(outcome)) { location.replace(next.href); return; }
  document.querySelector(".answer-bar:not([hidden])").replaceChildren(
    Object.assign(document.createElement("p"), { className: "strong", textContent: say("recorded") }),
  );
};

/** The answers wait for the cautions. Read on this phone, they wait for a signal as every tap does; what was read in a job is read. */
const letAnswer = async () => {
  const asked = document.querySelector("[data-until-read]");
  if (!asked) return;
  const form = document.getElementById("cautions");
  const { pathname } = new URL(form.action);
  const taps = (await kept("tap")).filter((tap) => tap.row && new URL(tap.url).pathname === pathname);
  const read = new Map(taps.flatMap(({ at, row }) => (row.values.shown ?? []).map((one) => [one, at])));
  const times = [...form.querySelectorAll("[name=shown]")].map((one) => read.get(one.value));
  if (!times.every(Boolean)) return;
  const time = new Date(Math.max(...times)).toLocaleTimeString([], { hour: "numeric", minute: "2-digit" });
  const line = document.querySelector("[data-read-says]");
  line.textContent = say("read", { time });
  line.hidden = false;
  document.querySelector("details[data-once-read]").append(document.querySelector(".caution"));
  asked.remove();
  document.querySelectorAll("[data-once-read]").forEach((one) => { one.hidden = false; });
};

const begin = () => letAnswer().then(goOn).catch(() => {});
if (document.body.dataset.asOf && (step || document.querySelector("[data-until-read]"))) {
  document.addEventListener("forms-ready", begin);
  if (document.body.dataset.filledIn) begin();
}
