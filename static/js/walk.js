// The inspection walk without waiting: a tap is kept on this phone, shown as done, and sent. Without this file every button
// is a plain form. What the server says last is what counts: after a walk is taken up again the page loads itself again.
//
// A page without a walk of the server's (data-begin) begins one: for the instrument and the purpose that the address names.
import { isOnDisk, newKey } from "./device-store.js";
import { begunAt, keep, kept } from "./tap-queue.js";
import { say } from "./words.js";

const walk = document.querySelector("[data-walk]");
const $ = (selector, within = document) => within.querySelector(selector);
const $$ = (selector, within = document) => [...within.querySelectorAll(selector)];
const DOUBLE_TAP_MS = 300;

/** The inspection that this page begins: its name until the server gives it a number, and what else its taps say. */
const beginning = async () => {
  const asked = new URLSearchParams(location.search);
  const [number, purpose] = [asked.get("number") ?? "", asked.get("purpose") ?? ""];
  const about = `${number}/${purpose}`;
  const before = (await kept()).findLast((tap) => tap.about === about);
  document.querySelectorAll("[data-number-here]").forEach((one) => { one.textContent = number; });
  const url = walk.dataset.begin.replace(encodeURIComponent(walk.dataset.like), encodeURIComponent(number));
  return { walk: before?.walk ?? newKey(), about, url, number, purpose, isKept: Boolean(before) };
};

const start = async () => {
  const begin = walk.dataset.begin ? await beginning() : null;
  const who = { walk: begin?.walk ?? walk.dataset.walk };
  const page = begin
    ? { home: location.pathname + location.search, title: begin.number, about: begin.about }
    : { home: walk.dataset.home, title: walk.dataset.title };
  const home = async () => (begin ? await begunAt(who.walk) ?? page.home : page.home);
  const stops = $$("[data-stop]", walk);
  const parts = stops.filter((stop) => stop.dataset.number);
  const stopOf = (code) => stops.find((stop) => stop.dataset.stop === code);
  const partBar = $('[data-bar="part"]');
  let at = walk.dataset.at;
  let isCounted = Boolean(walk.dataset.counted);
  let isAskedSafe = at !== "@safety";
  let lastTap = 0;
  let isPointed = false;
  let taking = Promise.resolve(); // what was answered before; the next answer is of the part that stands after it

  // ---- where one stands

  const panel = (stop, name) => {
    if (name) stop.dataset.open = name; else delete stop.dataset.open;
    if (name === "wrong") { $(".wrong", stop).reset(); placeChips(stop); }
    scrollTo({ top: 0 });
    $(name ? `.if-${name} :is([type=radio], .answers button)` : "h1", stop)?.focus({ preventScroll: true });
  };

  const go = (code, { push = true } = {}) => {
    const stop = stopOf(code);
    if (!stop) return;
    stops.forEach((one) => { one.hidden = one !== stop; if (one !== stop) delete one.dataset.open; });
    at = code;
    const kind = stop.dataset.number ? "part" : code;
    $$("[data-bar]").forEach((bar) => { bar.hidden = bar.dataset.bar !== kind; });
    if (kind === "part") {
      $$("input[name=part]", partBar).forEach((field) => { field.value = code; });
      partBar.dataset.state = stop.dataset.state;
    }
    $$("[data-mark] a", walk).forEach((link) => link.toggleAttribute("aria-current", false));
    $(`[data-mark="${code}"] a`, walk)?.setAttribute("aria-current", "step");
    if (code === "@finish") sum();
    $("[data-back]", walk).hidden = !before();
    $("h1", stop).after($("[data-to-answers]", walk));
    if (push) history.pushState({ at: code }, "");
    scrollTo({ top: 0 });
    $("h1", stop)?.focus({ preventScroll: true });
  };

  const before = () => stops[stops.indexOf(stopOf(at)) - 1]?.dataset.stop;

  const nextStep = () => {
    if (!isAskedSafe) return "@safety";
    const here = parts.findIndex((stop) => stop.dataset.stop === at);
    const unseen = [...parts.slice(here + 1), ...parts.slice(0, here + 1)].find((stop) => stop.dataset.state === "unseen");
    if (unseen) return unseen.dataset.stop;
    return walk.dataset.hasAccessories && !isCounted ? "@accessories" : "@finish";
  };

  // ---- what a tap changes on the page

  const nameOf = (code) => $("h1", stopOf(code)).textContent;

  const mark = (code, state) => {
    const stop = stopOf(code);
    stop.dataset.state = state;
    const item = $(`[data-mark="${code}"]`, walk);
    item.dataset.state = state;
    const count = $$("[data-found-one]", stop).length;
    $("[data-state-words]", item).textContent = state === "fine" ? say("fine") : state === "wrong" ? say(count === 1 ? "one-finding" : "findings", { count }) : "";
    $("[data-found]", stop).hidden = !count;
    const seen = parts.filter((one) => one.dataset.state !== "unseen").length;
    $("[data-seen]", walk).textContent = seen;
    $("progress", walk).value = seen;
    if (code === at) partBar.dataset.state = state;
  };

  const foundLine = (tap, place) => {
    const [fault, severity] = tap.says;
    const data = Object.fromEntries(tap.fields);
    const key = `${place.code}/${data.fault}`;
    const line = document.createElement("li");
    line.className = "row-apart";
    line.dataset.foundOne = key;
    const words = document.createElement("span");
    const strong = document.createElement("strong");
    strong.textContent = `${place.name ? `${place.name}: ` : ""}${fault}`;
    const quiet = document.createElement("span");
    quiet.className = "quiet";
    quiet.textContent = ` ${severity}`;
    words.append(strong, quiet);
    const form = document.createElement("form");
    Object.assign(form, { method: "post", action: `${walk.dataset.home}finding/take-back/` });
    form.dataset.tap = "take-back";
    [["part", tap.part], ["place", place.code], ["fault", data.fault]].forEach(([name, value]) => {
      form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
    });
    form.append(Object.assign(document.createElement("button"), { className: "link link-quiet", type: "submit", textContent: say("remove") }));
    line.append(words, form);
    return line;
  };

  const placesOf = (tap) => {
    const codes = tap.fields.filter(([name, value]) => name === "place" && value).map(([, value]) => value);
    if (!codes.length) return [{ code: "", name: "" }];
    const stop = stopOf(tap.part);
    return codes.map((code) => ({
      code, name: $(`.places input[value="${CSS.escape(code)}"]`, stop)?.closest("label").textContent.trim() || code,
    }));
  };

  // What was found missing as a part is not among what goes with it either.
  const isMissing = (stop) => $$("[data-found-one]", stop).some((line) => line.dataset.foundOne.endsWith("/missing_part"));

  const counted = $$("[data-expected]", walk).map((line) => {
    const stop = parts.find((one) => `count-${one.dataset.stop}` === line.dataset.expectedOf);
    return { line, stop, isGone: Boolean(stop && isMissing(stop)) };
  }).filter((one) => one.stop);

  const countMissing = () => {
    counted.forEach((one) => {
      if (isMissing(one.stop) === one.isGone) return;
      one.isGone = !one.isGone;
      $("input", one.line).value = Number(one.line.dataset.expected) - (one.isGone ? 1 : 0);
    });
    const isShort = counted.some((one) => one.isGone);
    $("[data-none-missing]").hidden = isShort;
    $("[data-some-missing]").hidden = !isShort;
  };

  const apply = {
    safety: () => { isAskedSafe = true; },
    fine: (tap) => {
      $$("[data-found-one]", stopOf(tap.part)).forEach((line) => line.remove());
      mark(tap.part, "fine");
      countMissing();
    },
    rest: (tap) => {
      const from = Math.max(0, parts.findIndex((stop) => stop.dataset.stop === tap.part));
      parts.slice(from).filter((stop) => stop.dataset.state === "unseen").forEach((stop) => mark(stop.dataset.stop, "fine"));
    },
    finding: (tap) => {
      const list = $("[data-found-list]", stopOf(tap.part));
      placesOf(tap).forEach((place) => {
        const line = foundLine(tap, place);
        $$("[data-found-one]", list).filter((one) => one.dataset.foundOne === line.dataset.foundOne).forEach((one) => one.remove());
        list.append(line);
      });
      mark(tap.part, "wrong");
      countMissing();
    },
    "take-back": (tap) => {
      const data = Object.fromEntries(tap.fields);
      const stop = stopOf(tap.part);
      $$("[data-found-one]", stop).filter((line) => line.dataset.foundOne === `${data.place}/${data.fault}`).forEach((line) => line.remove());
      mark(tap.part, $$("[data-found-one]", stop).length ? "wrong" : "unseen");
      countMissing();
    },
    accessories: () => { isCounted = true; },
    finish: () => { $("[data-waiting]", walk).hidden = false; },
    unsafe: () => {},
  };

  const afterwards = (tap) => {
    const stop = tap.part && stopOf(tap.part);
    if (tap.tap === "take-back") { window.hornbook?.announce(say("taken-back", { part: nameOf(tap.part) })); go(tap.part, { push: false }); return; }
    if (tap.tap === "finish" || tap.tap === "unsafe") { $$(".walk-bar").forEach((bar) => { bar.hidden = true; }); return; }
    const found = tap.tap === "finding" ? `${nameOf(tap.part)}: ${tap.says.join(", ")}` : "";
    const done = found || (tap.tap === "fine" ? `${nameOf(tap.part)}: ${say("fine")}` : tap.label);
    last(found, stop);
    go(nextStep());
    const { number } = stopOf(at).dataset;
    const next = say(number ? "next-part" : "next", { part: nameOf(at), number, count: parts.length });
    window.hornbook?.announce(`${done}. ${next}`);
  };

  const last = (text, stop) => {
    const line = $("[data-last]", walk);
    line.hidden = !text;
    line.replaceChildren();
    if (!text) return;
    line.append(Object.assign(document.createElement("span"), { textContent: text }));
    const link = Object.assign(document.createElement("a"), { href: "#", textContent: say("change") });
    link.dataset.go = stop.dataset.stop;
    line.append(link);
  };

  const sum = () => {
    const wrong = parts.filter((stop) => stop.dataset.state === "wrong");
    $("[data-sum]", walk).textContent = say(
      wrong.length > 1 ? "parts-wrong" : wrong.length ? "part-wrong" : "nothing-wrong", { count: wrong.length },
    );
    $("[data-sum-list]", walk).replaceChildren(...wrong.map((stop) => {
      const item = document.createElement("li");
      const link = Object.assign(document.createElement("a"), { className: "row-link", href: "#" });
      link.dataset.go = stop.dataset.stop;
      const words = document.createElement("span");
      const found = $$("[data-found-one] > span", stop).map((line) => (
        [$("strong", line), $(".quiet", line)].map((word) => word.textContent.trim()).join(", ")
      ));
      words.append(
        Object.assign(document.createElement("strong"), { textContent: nameOf(stop.dataset.stop) }),
        document.createElement("br"),
        Object.assign(document.createElement("span"), { className: "quiet small", textContent: found.join("; ") }),
      );
      link.append(words, Object.assign(document.createElement("span"), { textContent: "→", ariaHidden: "true" }));
      item.append(link);
      return item;
    }));
    const unseen = parts.filter((stop) => stop.dataset.state === "unseen").length;
    $("[data-unseen]", walk).hidden = !unseen;
    $("[data-unseen-count]", walk).textContent = unseen;
  };

  // ---- keep and send

  const refuse = (text) => {
    const box = $("[data-refused]", walk);
    $("[data-refused-says]", box).textContent = text;
    box.hidden = !text;
    if (text) scrollTo({ top: 0 });
  };

  const standing = ({ left, wait }) => {
    const line = $("[data-saved]", walk);
    line.classList.toggle("strong", Boolean(left));
    line.textContent = say(
      !left ? "saved" : !isOnDisk() ? "not-kept" : wait === "log-in" ? "log-in-to-send" : "kept", { count: left },
    );
  };

  let gone = false;
  document.addEventListener("tap-done", ({ detail: { tap, answer } }) => {
    if (tap.walk !== who.walk || !(tap.tap === "finish" || tap.tap === "unsafe")) return;
    gone = true;
    location.assign(answer.url || page.home);
  });
  document.addEventListener("tap-refused", (event) => {
    const { tap, answer } = event.detail;
    if (tap.walk !== who.walk || tap.tap === "begin") return;
    if (answer.status === 409) {
      if (!gone) home().then((url) => location.assign(`${url}?late=1`));
      gone = true;
      return;
    }
    event.preventDefault(); // seen here
    refuse(answer.refused);
    if (tap.tap === "safety") isAskedSafe = false;
    if (tap.tap === "finish") { $("[data-waiting]", walk).hidden = true; go(isAskedSafe ? "@finish" : "@safety"); }
  });
  document.addEventListener("taps-sent", async ({ detail }) => {
    if (!gone) standing({ left: (await kept(who)).length, wait: detail.wait });
  });
  /** Have them sent (sending.js); resolves with how many of this walk are left. */
  const sendAll = async () => {
    const sent = new Promise((resolve) => { document.addEventListener("taps-sent", resolve, { once: true }); });
    document.dispatchEvent(new Event("send-taps"));
    await sent;
    return (await kept(who)).length;
  };

  const take = async (form, submitter) => {
    const data = new FormData(form, submitter);
    data.delete("csrfmiddlewaretoken");
    const fields = [...data].filter(([, value]) => !(value instanceof File) || value.size);
    const part = data.get("part") || "";
    const says = submitter?.dataset.says?.split(/, (?=[^,]+$)/) || [];
    const chosen = $(`input[name="detail-${data.get("fault")}"]:checked`, form);
    if (says.length && chosen) says[0] += `, ${chosen.closest("label").textContent.trim().toLowerCase()}`;
    const label = submitter?.innerText.trim().replace(/\s+/g, " ") ?? "";
    const tap = { ...who, ...page, url: form.action, key: newKey(), fields, tap: form.dataset.tap, part, says, label };
    try {
      if (begin && !begin.isKept) {
        await keep({ ...tap, url: begin.url, key: newKey(), fields: [["purpose", begin.purpose]], tap: "begin", part: "", says: [], label: "" });
        begin.isKept = true;
      }
      await keep(tap);
    } catch {
      form.submit(); // this browser keeps nothing: send the plain form
      return;
    }
    form.dispatchEvent(new Event("taken", { bubbles: true }));
    refuse("");
    apply[tap.tap]?.(tap);
    afterwards(tap);
    sendAll();
  };

  /** What follows an answer waits until it is taken; so do the keys pressed meanwhile (keys.js). */
  const whenTaken = (next) => {
    taking = taking.then(next, next);
    document.dispatchEvent(new CustomEvent("answering", { detail: taking }));
  };

  document.addEventListener("click", ({ detail }) => { isPointed = detail > 0; }, true); // by a key it is 0
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[data-tap]")) return;
    event.preventDefault();
    // A second tap of a trembling finger would land on the next part. A key held down counts once (keys.js).
    if (isPointed && event.timeStamp - lastTap < DOUBLE_TAP_MS) return;
    lastTap = event.timeStamp;
    const { submitter } = event;
    whenTaken(() => (!submitter || submitter.checkVisibility()) && take(form, submitter));
  });

  // ---- places stand with the chosen fault

  const placeChips = (stop) => {
    const places = $("[data-places]", stop);
    if (!places) return;
    const chosen = $(".fault-name :checked", stop);
    if (chosen) $("[data-places-here]", chosen.closest(".fault")).append(places);
    else $(".wrong-ask", stop).after(places);
    places.hidden = !chosen;
  };

  document.addEventListener("change", (event) => {
    if (event.target.name !== "fault") return;
    placeChips(event.target.closest("[data-stop]"));
    scrollTo({ top: 0 });
  });
  document.addEventListener("reset", (event) => {
    const stop = event.target.closest("[data-stop]");
    if (!stop) return;
    setTimeout(() => {
      placeChips(stop);
      if (document.activeElement.matches("body, [data-other]")) $(".fault-name input", stop)?.focus({ preventScroll: true });
    });
  });

  document.addEventListener("click", (event) => {
    const link = event.target.closest("a, button");
    if (!link) return;
    const station = link.matches("a.pic-station, .pic-list a") && link.getAttribute("href")?.match(/\/part\/([\w-]+)\/$/);
    const code = link.dataset.go || station?.[1];
    if (code) { event.preventDefault(); last(""); go(code); }
    else if (link.dataset.openPanel) { event.preventDefault(); whenTaken(() => panel(stopOf(at), link.dataset.openPanel)); }
    else if (link.matches("[data-close]")) { event.preventDefault(); panel(stopOf(at), ""); }
    else if (link.matches("[data-back]")) { last(""); go(before()); }
    else if (link.matches("[data-to-answers]")) { event.preventDefault(); $$(".walk-bar .btn-main").find((one) => one.checkVisibility())?.focus(); }
    else if (link.matches("[data-next]")) { event.preventDefault(); last(""); go(nextStep()); }
    else if (link.dataset.step) {
      const field = $("input", link.parentElement);
      field.value = Math.max(0, Number(field.value || 0) + Number(link.dataset.step));
    }
  });
  addEventListener("popstate", (event) => go(event.state?.at || walk.dataset.at, { push: false }));
  $$(".step-by", walk).forEach((button) => { button.hidden = false; });
  stops.forEach(placeChips);
  history.replaceState({ at }, "");
  $("[data-back]", walk).hidden = !before();
  $("h1", stopOf(at)).after($("[data-to-answers]", walk));
  if (document.activeElement === document.body) $("h1", stopOf(at)).focus({ preventScroll: true });

  if (!isOnDisk()) document.querySelector(".offline-note").textContent = say("offline-not-kept");

  // ---- taps kept from before: show them, send them, then show what the server has

  const resume = async () => {
    let waiting = [];
    try { waiting = await kept(who); } catch { return; }
    waiting.forEach((tap) => apply[tap.tap]?.(tap));
    if (!waiting.length) return;
    standing({ left: waiting.length });
    const end = waiting.find((tap) => tap.tap === "finish" || tap.tap === "unsafe");
    if (begin) go(end ? "@finish" : nextStep(), { push: false });
    if (end) afterwards(end);
    if (!await sendAll() && !gone) location.assign(await home());
  };
  resume();
  document.addEventListener("filled-in", ({ target }) => { // what was half typed about a part: show it there
    const stop = target.closest("[data-stop]");
    if (!stop) return;
    const isWrong = target.matches(".wrong");
    go(stop.dataset.stop, { push: false });
    placeChips(stop);
    if (isWrong) stop.dataset.open = "wrong";
  });
};

const isOfNone = walk?.dataset.begin && !new URLSearchParams(location.search).get("number");
if (walk && !isOfNone) start();
