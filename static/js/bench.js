// The tech's page: how long a started step has been running. Everything else works without script.
const clock = document.querySelector("[data-since]");

if (clock) {
  const since = new Date(clock.dataset.since);
  const said = clock.textContent;
  const tick = () => {
    const minutes = Math.max(0, Math.floor((Date.now() - since.getTime()) / 60000));
    const hours = Math.floor(minutes / 60);
    const gone = hours ? `${hours} h ${minutes % 60} min` : `${minutes} min`;
    clock.textContent = `${said}, ${gone} ago`;
  };
  tick();
  setInterval(tick, 20000);
}
