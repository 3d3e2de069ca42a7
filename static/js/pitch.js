// Pitch of a tone from samples. First the period (McLeod's method, from the installed library), then the exact frequency:
// the phase that a harmonic turns through between two stretches of the tone. Nothing here leaves the device.
import { PitchDetector } from "../vendor/pitchy/pitchy.js";

const CLEAR = 0.85; // how periodic a tone must be, 0 to 1
const LOUD = 0.004; // root mean square below which nobody plays
const HARMONICS = 8;
const LOW_HERTZ = 130;
const detectors = new Map();

/** Samples to listen to at once: at least eight periods, and long enough for the lowest tuba note (E1, 41 Hz). */
export const windowFor = (hertz, rate) => {
  const wanted = hertz < LOW_HERTZ ? 0.34 : 0.17;
  return 2 ** Math.round(Math.log2(rate * wanted));
};

export const centsBetween = (hertz, wanted) => 1200 * Math.log2(hertz / wanted);

const NAMES = ["C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"];
/** Name of the nearest note at a MIDI number. */
export const nameOf = (midi) => `${NAMES[((Math.round(midi) % 12) + 12) % 12]}${Math.floor(Math.round(midi) / 12) - 1}`;

const detectorOf = (length) => {
  if (!detectors.has(length)) detectors.set(length, PitchDetector.forFloat32Array(length));
  return detectors.get(length);
};

/** The part of a frequency in a Hann-windowed stretch: [real, imaginary], by direct summation. */
const partOf = (samples, begin, length, turn) => {
  let real = 0;
  let imaginary = 0;
  const step = (2 * Math.PI) / length;
  for (let i = 0; i < length; i += 1) {
    const weighed = samples[begin + i] * (0.5 - 0.5 * Math.cos(step * (i + 0.5)));
    real += weighed * Math.cos(turn * i);
    imaginary -= weighed * Math.sin(turn * i);
  }
  return [real, imaginary];
};

/** Frequency of the strongest harmonic near a multiple of ``guess``, divided back; null where none is strong enough. */
const refined = (samples, guess, rate) => {
  const length = Math.floor(samples.length / 2);
  const strong = [];
  for (let harmonic = 1; harmonic <= HARMONICS && guess * harmonic < rate * 0.42; harmonic += 1) {
    const [real, imaginary] = partOf(samples, 0, length, (2 * Math.PI * guess * harmonic) / rate);
    strong.push({ harmonic, power: real * real + imaginary * imaginary });
  }
  if (!strong.length) return null;
  const most = Math.max(...strong.map((one) => one.power));
  // The higher a harmonic, the finer it tells; but a weak one tells of noise.
  const chosen = strong.filter((one) => one.power > most * 0.1);
  let [sum, weight] = [0, 0];
  for (const { harmonic, power } of chosen) {
    let hertz = guess * harmonic;
    // Short steps first, so that the phase cannot turn once too often; then longer ones for a finer answer.
    for (const hop of [Math.floor(rate / (40 * harmonic ** 0.5 * Math.max(1, guess / 400))), Math.floor(length / 4), length]) {
      if (hop < 1) continue;
      const turn = (2 * Math.PI * hertz) / rate;
      const [r1, i1] = partOf(samples, 0, length, turn);
      const [r2, i2] = partOf(samples, hop, length, turn);
      let phase = Math.atan2(i2, r2) - Math.atan2(i1, r1) + turn * hop;
      const expected = turn * hop;
      phase -= 2 * Math.PI * Math.round((phase - expected) / (2 * Math.PI));
      hertz = (phase * rate) / (2 * Math.PI * hop);
    }
    if (Math.abs(centsBetween(hertz / harmonic, guess)) < 40) {
      const trust = power * harmonic * harmonic;
      sum += (hertz / harmonic) * trust;
      weight += trust;
    }
  }
  return weight ? sum / weight : null;
};

/** Pitch of the samples, or null where there is no clear tone: {hertz, clarity, loud}. */
export const pitchOf = (samples, rate) => {
  const loud = Math.sqrt(samples.reduce((sum, sample) => sum + sample * sample, 0) / samples.length);
  if (loud < LOUD) return null;
  const detector = detectorOf(samples.length);
  const [found, clarity] = detector.findPitch(samples, rate);
  if (!found || clarity < CLEAR || found > rate / 4) return null;
  return { hertz: refined(samples, found, rate) ?? found, clarity, loud };
};

/** Mean and sample standard deviation. */
export const spreadOf = (values) => {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const off = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return { mean, spread: values.length > 1 ? Math.sqrt(off / (values.length - 1)) : 0, tries: values.length };
};

const HOLD_MS = 700;
const UNSTEADY_CENTS = 25; // highest less lowest while a note is held; a school player's vibrato is within it
const ASIDE_CENTS = 120; // further from the wanted note than this it is another note

/** Follows one note: tell it each reading; it says how long the note has been held and, once long enough, its cents. */
export class HeldNote {
  constructor(wanted) {
    this.wanted = wanted;
    this.heard = [];
  }

  /** ``at`` in milliseconds. Returns {cents, held 0..1, done: null or mean cents, aside: is it another note}. */
  hear(reading, at) {
    if (!reading) {
      this.heard = [];
      return { cents: null, held: 0, done: null, aside: false };
    }
    const cents = centsBetween(reading.hertz, this.wanted);
    if (Math.abs(cents) > ASIDE_CENTS) {
      this.heard = [];
      return { cents, held: 0, done: null, aside: true };
    }
    this.heard.push({ cents, at });
    const wide = (list) => Math.max(...list.map((one) => one.cents)) - Math.min(...list.map((one) => one.cents));
    while (this.heard.length > 1 && wide(this.heard) > UNSTEADY_CENTS) this.heard.shift();
    const lasted = at - this.heard[0].at;
    const held = Math.min(1, lasted / HOLD_MS);
    if (held < 1 || this.heard.length < 5) return { cents, held, done: null, aside: false };
    const done = spreadOf(this.heard.map((one) => one.cents)).mean;
    this.heard = [];
    return { cents, held: 1, done, aside: false };
  }
}
