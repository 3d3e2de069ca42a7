// The tech's page: how long a started step has been running. Everything else works without script.
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
}
