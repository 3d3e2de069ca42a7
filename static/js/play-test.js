// The play test with ears: note by note, a needle, moving on when a note is held. Fills in the form that works by hand too.
import { centsOf, mark, noteCells, said, signed, stateOf } from "./note-cells.js";
import { centsBetween, HeldNote, LevelGate, loudnessOf, nameOf, pitchOf, spreadOf, windowFor } from "./pitch.js";
import { say } from "./words.js";

const form = document.querySelector("[data-play-test]");
const ears = form?.querySelector("[data-ears]");
const cells = form?.querySelector("[data-cells]") && noteCells(form);
const EVERY_MS = 55;
const NEEDLE_DEGREES = 48.3; // at 50 cents
const REST_MS = 200; // after a note, for the eye to follow
const TAP_MS = 500; // a second tap within it is the same tap
const QUIET_READINGS = 12;
const SWAY_CENTS = 12; // from here on vibrato is said

const STEPS = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };
/** MIDI number of a written name: "F#4", "Bb3". */
const midiOf = (written) => {
  const [, step, accidental, octave] = /^([A-G])([#b]?)(-?\d)$/.exec(written);
  return 12 * (Number(octave) + 1) + STEPS[step] + { "": 0, "#": 1, b: -1 }[accidental];
};

/** What this instrument calls a tone: the written name beside its own notes. */
const writtenName = (lines, hertz) => {
  const known = lines.find((line) => Math.abs(centsBetween(hertz, Number(line.dataset.hertz))) < 50);
  if (known) return known.dataset.shown;
  const [first] = lines;
  return nameOf(midiOf(first.dataset.note) + centsBetween(hertz, Number(first.dataset.hertz)) / 100);
};

// Between "all of them" and "only some": notes that nobody judged yet go over, those that were judged stay.
const some = form?.querySelector("[data-only-some]");
let isOnlySome = false;
const onlySome = (is) => {
  isOnlySome = is;
  for (const line of cells.lines) {
    const isJudged = Boolean(centsOf(line)?.value);
    if (!isJudged && stateOf(line) === (is ? "" : "untried")) mark(line, is ? "untried" : "");
  }
  cells.draw();
  sayWhichCount();
};
const sayWhichCount = () => {
  some.querySelector("button").textContent = say(isOnlySome ? "played-all" : "played-some");
};
if (some) {
  some.hidden = false;
  some.querySelector("button").addEventListener("click", () => {
    onlySome(!isOnlySome);
    form.dispatchEvent(new Event("change", { bubbles: true })); // the device keeps it
    window.hornbook?.announce(say(isOnlySome ? "others-not-played" : "others-played"));
  });
}

const start = () => {
  const $ = (name) => ears.querySelector(`[data-ears-${name}]`);
  const screen = $("screen");
  const { lines } = cells;
  const tries = new Map(); // written -> cents of each try
  const measures = form.querySelector("[name=measures]");
  const saved = () => { try { return JSON.parse(measures.value || "[]"); } catch { return []; } };
  const known = new Map();
  const recall = () => saved().forEach((row) => known.set(row.written, row));
  let at = 0;
  let held = null;
  let stream = null;
  let context = null;
  let timer = 0;
  let restUntil = 0;
  let tappedAt = -TAP_MS;
  let gate = null;
  let quiet = 0;
  let lock = null;
  let lastHertz = 0;

  const own = () => [...known.values()].filter((row) => row.spoke && row.cents !== null).map((row) => row.cents);

  const store = () => {
    measures.value = JSON.stringify([...known.values()]);
    form.dispatchEvent(new Event("change", { bubbles: true })); // the device keeps it
  };

  const keep = (line, spoke) => {
    const written = line.dataset.note;
    const all = tries.get(written) || [];
    if (!spoke) {
      known.set(written, { written, cents: null, spread: null, tries: all.length, spoke: false });
      mark(line, "failed");
      centsOf(line).value = "";
    } else {
      const { mean, spread } = spreadOf(all);
      known.set(written, { written, cents: Number(mean.toFixed(1)), spread: Number(spread.toFixed(1)), tries: all.length, spoke: true });
      centsOf(line).value = mean.toFixed(1);
      if (["failed", "untried"].includes(stateOf(line))) mark(line, "");
    }
    store();
  };

  const show = () => {
    const line = lines[at];
    cells.select(at);
    screen.querySelectorAll("[data-on-staff]").forEach((one) => { one.toggleAttribute("hidden", one.dataset.onStaff !== line.dataset.note); });
    const all = tries.get(line.dataset.note) || [];
    $("count").textContent = say("at", { at: at + 1, all: lines.length });
    const { mean, spread } = spreadOf(all);
    $("tries").textContent = all.length
      ? say("tried", { times: all.length, cents: signed(mean), spread: spread.toFixed(1) }) : "";
    $("note").textContent = $("now").textContent = line.dataset.shown;
    $("fingering").textContent = line.dataset.fingering;
    held = new HeldNote(Number(line.dataset.hertz), lastHertz, own());
    $("hold").value = 0;
  };

  const point = (cents) => {
    const turn = Math.max(-55, Math.min(55, cents ?? 0)) * (NEEDLE_DEGREES / 50);
    $("hand").style.transform = `rotate(${turn}deg)`;
    screen.classList.toggle("is-quiet", cents === null);
    $("cents").textContent = cents === null ? "·" : say("cents", { cents: signed(cents) });
  };

  const move = (to) => {
    if (to >= lines.length) { stop(say("last-note")); return; }
    at = Math.max(0, to);
    restUntil = performance.now() + REST_MS;
    show();
  };

  const listen = (analyser, samples) => {
    const now = performance.now();
    const line = lines[at];
    const size = windowFor(Number(line.dataset.hertz), context.sampleRate);
    if (analyser.fftSize !== size) analyser.fftSize = size;
    const part = samples.subarray(0, size);
    analyser.getFloatTimeDomainData(part);
    const loud = loudnessOf(part);
    const { open, share } = gate.hear(loud);
    $("level").value = share;
    if (now < restUntil) return;
    const tone = pitchOf(part, context.sampleRate);
    quiet = tone && !open ? quiet + 1 : 0;
    const reading = open ? tone : null;
    const told = held.hear(reading, now);
    $("hold").value = told.held;
    point(told.aside ? null : told.cents);
    const name = told.aside ? writtenName(lines, reading.hertz) : "";
    if (name === line.dataset.shown) $("heard").textContent = say("too-far", { cents: signed(told.cents) });
    else if (name) $("heard").textContent = say("other-note", { note: name });
    else $("heard").textContent = quiet > QUIET_READINGS ? say("too-quiet") : "";
    if (told.done === null) return;
    gate.take(loud);
    tries.set(line.dataset.note, [...(tries.get(line.dataset.note) || []), told.done]);
    keep(line, true);
    lastHertz = reading.hertz;
    $("last").textContent = say(told.width > SWAY_CENTS ? "heard-swaying" : "heard", {
      note: line.dataset.shown, cents: signed(told.done), width: told.width.toFixed(0),
    });
    move(at + 1);
  };

  const stayAwake = async () => {
    try {
      lock = await navigator.wakeLock?.request("screen");
      if (!stream) lock?.release(); // stopped while it was asked for
    } catch { lock = null; } // a low battery refuses it
  };

  const release = () => {
    clearInterval(timer);
    lock?.release();
    lock = null;
    stream?.getTracks().forEach((track) => track.stop());
    if (context) {
      context.onstatechange = null;
      context.close();
    }
    stream = context = null;
    cells.goHome();
    screen.close();
    $("start").textContent = say("again");
  };

  const stop = (words = "") => {
    release();
    if (history.state?.isListening) history.back();
    $("says").textContent = words;
  };

  const begin = async () => {
    $("says").textContent = say("asking");
    try {
      // What makes speech clear makes a tone wrong: everything off.
      stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 } });
    } catch {
      $("says").textContent = say("refused");
      return;
    }
    context = new AudioContext();
    await context.resume();
    const [track] = stream.getAudioTracks();
    track.addEventListener("ended", () => { if (stream?.getAudioTracks()[0] === track) stop(say("ended")); });
    context.onstatechange = () => { if (context && context.state !== "running") stop(say("asleep")); };
    gate = new LevelGate();
    stayAwake();
    const analyser = context.createAnalyser();
    analyser.smoothingTimeConstant = 0;
    context.createMediaStreamSource(stream).connect(analyser);
    const samples = new Float32Array(32768);
    if (!known.size) onlySome(true); // what is heard counts, and nothing else
    if (!history.state?.isListening) history.pushState({ isListening: true }, ""); // the Back button leaves the screen, not the page
    screen.showModal();
    cells.lend($("cells"), move);
    $("says").textContent = $("last").textContent = "";
    const fresh = lines.findIndex((line) => !known.has(line.dataset.note));
    at = fresh < 0 ? 0 : fresh;
    show();
    point(null);
    $("note").focus();
    timer = setInterval(() => listen(analyser, samples), EVERY_MS);
  };

  $("start").addEventListener("click", begin);
  $("stop").addEventListener("click", () => stop());
  screen.addEventListener("close", () => { if (stream) stop(); }); // by Escape
  addEventListener("popstate", () => { if (stream) release(); });
  /** One tap acts once: a second one right after it would judge the next note unheard. */
  const onTap = (name, act) => $(name).addEventListener("click", () => {
    const now = performance.now();
    if (now - tappedAt < TAP_MS) return;
    tappedAt = now;
    act();
  });
  const moveOn = () => {
    $("last").textContent = said(lines[at]);
    move(at + 1);
  };
  onTap("silent", () => { keep(lines[at], false); moveOn(); });
  onTap("weak", () => { mark(lines[at], "weak"); store(); moveOn(); });
  onTap("next", () => move(at + 1));
  document.addEventListener("visibilitychange", () => { if (stream && document.visibilityState === "visible") stayAwake(); });
  onTap("again", () => {
    // Once more: the note just measured, if this one has not been tried yet.
    const tried = tries.has(lines[at].dataset.note);
    move(tried ? at : at - 1);
  });
  addEventListener("pagehide", () => { if (stream) release(); });
  form.addEventListener("change", ({ target }) => {
    const line = target.closest("[data-note]");
    if (!line) return;
    const isSilent = known.get(line.dataset.note)?.spoke === false;
    if (target !== centsOf(line) && !isSilent) return;
    known.delete(line.dataset.note); // said by hand: what the microphone heard no longer stands
    store();
  });
  recall();
  form.addEventListener("filled-in", recall);
  ears.hidden = false;
};

const askWhichCount = () => {
  isOnlySome = Boolean(form.querySelector('.note-states input[value="untried"]:checked'));
  sayWhichCount();
};
if (some) {
  askWhichCount();
  form.addEventListener("filled-in", askWhichCount);
}
if (ears && navigator.mediaDevices?.getUserMedia) start();
else if (ears) {
  ears.querySelector("[data-ears-says]").textContent = say(window.isSecureContext ? "no-microphone" : "no-https");
  ears.querySelector("[data-ears-start]").hidden = true;
  ears.hidden = false;
}
