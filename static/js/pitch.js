// Pitch of a tone from samples. First the period (McLeod's method, from the installed library), then the exact frequency:
// the phase that a harmonic turns through between two stretches of the tone. Nothing here leaves the device.
import { PitchDetector } from "../vendor/pitchy/pitchy.js";

const CLEAR = 0.85; // how periodic a tone must be, 0 to 1
const LOUD = 0.004; // root mean square below which nobody plays
const HARMONICS = 8;
const STRONGEST = 3;
const LOW_HERTZ = 130;
const HIGH_HERTZ = 900;
const SHORT = 1024;
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

const hanns = new Map();
const hannOf = (length) => {
  if (!hanns.has(length)) {
    hanns.set(length, Float32Array.from({ length }, (_, i) => 0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / length)));
  }
  return hanns.get(length);
};

/** The part of a frequency (``turn`` radians a sample) in a Hann-windowed stretch: [real, imaginary]. */
const partOf = (samples, begin, length, turn) => {
  const hann = hannOf(length);
  const [stepReal, stepImaginary] = [Math.cos(turn), -Math.sin(turn)];
  let [real, imaginary, x, y] = [0, 0, 1, 0];
  for (let i = 0; i < length; i += 1) {
    const weighed = samples[begin + i] * hann[i];
    real += weighed * x;
    imaginary += weighed * y;
    const turned = x * stepReal - y * stepImaginary;
    y = x * stepImaginary + y * stepReal;
    x = turned;
  }
  return [real, imaginary];
};

const divisor = (a, b) => (b ? divisor(b, a % b) : a);

/** Powers of the harmonics of ``guess``, strongest first: [{harmonic, power}]. */
const harmonicsOf = (samples, guess, rate) => {
  const length = Math.floor(samples.length / 2);
  const found = [];
  for (let harmonic = 1; harmonic <= HARMONICS && guess * harmonic < rate * 0.45; harmonic += 1) {
    const [real, imaginary] = partOf(samples, 0, length, (2 * Math.PI * guess * harmonic) / rate);
    found.push({ harmonic, power: real * real + imaginary * imaginary });
  }
  return found.sort((one, other) => other.power - one.power);
};

/** Frequency near ``hertz`` from the phase it turns through: a short hop first, so that no turn is missed, then longer. */
const followed = (samples, hertz, rate) => {
  const length = Math.floor(samples.length / 2);
  const first = Math.max(1, Math.min(Math.floor(rate / (hertz * 0.08)), Math.floor(length / 8)));
  let exact = hertz;
  const hops = [];
  for (let hop = first; hop < length; hop *= 3) hops.push(hop);
  for (const hop of [...hops, length]) {
    const turn = (2 * Math.PI * exact) / rate;
    const [r1, i1] = partOf(samples, 0, length, turn);
    const [r2, i2] = partOf(samples, hop, length, turn);
    const raw = Math.atan2(i2, r2) - Math.atan2(i1, r1);
    const whole = Math.round((turn * hop - raw) / (2 * Math.PI));
    exact = ((raw + 2 * Math.PI * whole) * rate) / (2 * Math.PI * hop);
  }
  return exact;
};

/** A high tone's period is few samples long and so is known roughly: a short stretch, which hears wider, comes first. */
const nearer = (samples, guess, rate) => {
  if (guess < HIGH_HERTZ) return guess;
  const short = samples.subarray(0, SHORT);
  const [strongest] = harmonicsOf(short, guess, rate);
  return strongest ? followed(short, guess * strongest.harmonic, rate) / strongest.harmonic : guess;
};

/** The fundamental, exactly: from the strongest harmonics, each divided back; ``rough`` where none tells. */
const refined = (samples, rough, rate) => {
  const guess = nearer(samples, rough, rate);
  let found = harmonicsOf(samples, guess, rate);
  if (!found[0]?.power) return guess; // silence in the first half
  // Where only every second (third ...) harmonic sounds, the period found was two (three ...) periods long.
  const every = found.filter((one) => one.power > found[0].power * 0.003).reduce((sum, one) => divisor(one.harmonic, sum), 0);
  const base = guess * every;
  if (every > 1) found = harmonicsOf(samples, base, rate);
  let [sum, weight] = [0, 0];
  for (const { harmonic, power } of found.filter((one) => one.power > found[0].power * 0.1).slice(0, STRONGEST)) {
    const hertz = followed(samples, base * harmonic, rate) / harmonic;
    if (Math.abs(centsBetween(hertz, base)) < 60) {
      const trust = power * harmonic * harmonic;
      sum += hertz * trust;
      weight += trust;
    }
  }
  return weight ? sum / weight : base;
};

/** Root mean square of the samples. */
export const loudnessOf = (samples) => Math.sqrt(samples.reduce((sum, sample) => sum + sample * sample, 0) / samples.length);

/** Pitch of the samples, or null where there is no clear tone: {hertz, clarity, loud}. */
export const pitchOf = (samples, rate) => {
  const loud = loudnessOf(samples);
  if (loud < LOUD) return null;
  const detector = detectorOf(samples.length);
  const [found, clarity] = detector.findPitch(samples, rate);
  if (!found || clarity < CLEAR) return null;
  return { hertz: refined(samples, found, rate), clarity, loud };
};

/** Mean and sample standard deviation. */
export const spreadOf = (values) => {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const off = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return { mean, spread: values.length > 1 ? Math.sqrt(off / (values.length - 1)) : 0, tries: values.length };
};

const ABOVE_ROOM = 3; // times as loud as the room at its quietest: about 10 dB
const BESIDE_NOTES = 0.22; // of the loudness of the notes taken so far: 13 dB below them somebody else plays
const QUIETEST_DB = -60;

const middleOf = (values) => {
  const sorted = [...values].sort((one, other) => one - other);
  return sorted.length ? sorted[Math.floor(sorted.length / 2)] : 0;
};

/** Lets through what this instrument is loud enough to be: louder than the room's hum, and near its own first notes. */
export class LevelGate {
  constructor() {
    this.room = Infinity;
    this.taken = [];
  }

  /** Tell it each loudness. Returns {open, share}: whether to listen, and 0..1 for a meter. */
  hear(loud) {
    this.room = Math.min(this.room, loud);
    const least = Math.max(LOUD, ABOVE_ROOM * this.room, BESIDE_NOTES * middleOf(this.taken));
    const share = 1 - 20 * Math.log10(Math.max(loud, 1e-6)) / QUIETEST_DB;
    return { open: loud >= least, share: Math.max(0, Math.min(1, share)) };
  }

  /** A note of this instrument was taken at this loudness. */
  take(loud) {
    this.taken.push(loud);
  }
}

const HOLD_MS = 700;
const ATTACK_MS = 150; // how a tone begins does not count: it scoops
const UNSTEADY_CENTS = 25; // highest less lowest while a note is held
const SETTLED_CENTS = 5;
const VIBRATO_CENTS = 90; // so wide when it swings about its middle
const VIBRATO_TURNS = 4; // times that it crosses it
const FIRST_CENTS = 60; // from the wanted note, while the instrument's own pitch is not known; a half step is 100
const ASIDE_CENTS = 50; // from the wanted note at the instrument's own pitch; further off it is another note
const OWN_AFTER = 3; // notes that tell its own pitch
const SAME_CENTS = 40; // within this of the note just taken, it is that note still sounding
const SILENT_READINGS = 3;

/** Follows one note: tell it each reading; it says how long the note has been held and, once long enough, its cents. */
export class HeldNote {
  /**
   * ``last``: hertz of the note just taken, which does not count again before it has ended; 0 for none.
   * ``taken``: cents of the notes taken so far, which tell the instrument's own pitch.
   */
  constructor(wanted, last = 0, taken = []) {
    this.wanted = wanted;
    this.last = last;
    this.own = taken.length >= OWN_AFTER ? middleOf(taken) : 0;
    this.aside = taken.length >= OWN_AFTER ? ASIDE_CENTS : FIRST_CENTS;
    this.silent = 0;
    this.begun = null;
    this.heard = [];
  }

  none(more) {
    this.heard = [];
    return { cents: null, held: 0, done: null, width: 0, aside: false, ...more };
  }

  /** ``at`` in milliseconds. Returns {cents, held 0..1, done: null or mean cents, width of its vibrato, aside: another note}. */
  hear(reading, at) {
    if (!reading) {
      this.silent += 1;
      if (this.silent >= SILENT_READINGS) {
        this.last = 0;
        this.begun = null;
      }
      return this.none();
    }
    this.silent = 0;
    if (this.last && Math.abs(centsBetween(reading.hertz, this.last)) < SAME_CENTS) return this.none();
    this.last = 0;
    const cents = centsBetween(reading.hertz, this.wanted);
    if (Math.abs(cents - this.own) > this.aside) {
      this.begun = null;
      return this.none({ cents, aside: true });
    }
    this.begun ??= at;
    if (at - this.begun < ATTACK_MS) return this.none({ cents });
    this.heard.push({ cents, at });
    while (this.heard.length > 1 && !this.isSteady()) this.heard.shift();
    const held = Math.min(1, (at - this.heard[0].at) / HOLD_MS);
    if (held < 1 || this.heard.length < 5) return { cents, held, done: null, width: 0, aside: false };
    const width = this.width();
    const done = spreadOf(this.settled()).mean;
    this.heard = [];
    return { cents, held: 1, done, width, aside: false };
  }

  /** What was heard from where it first comes near its middle: before that the tone was still on its way. */
  settled() {
    const all = this.heard.map((one) => one.cents);
    const middle = middleOf(all);
    return all.slice(all.findIndex((cents) => Math.abs(cents - middle) <= SETTLED_CENTS));
  }

  width() {
    const all = this.heard.map((one) => one.cents);
    return Math.max(...all) - Math.min(...all);
  }

  /** Whether what was heard is one tone: it stays, or it swings about its middle. */
  isSteady() {
    const width = this.width();
    if (width <= UNSTEADY_CENTS) return true;
    if (width > VIBRATO_CENTS) return false;
    const { mean } = spreadOf(this.heard.map((one) => one.cents));
    const sides = this.heard.map((one) => one.cents > mean);
    const turns = sides.filter((side, i) => i && side !== sides[i - 1]).length;
    const lasted = this.heard.at(-1).at - this.heard[0].at;
    return lasted < HOLD_MS / 2 || turns >= Math.floor((VIBRATO_TURNS * lasted) / HOLD_MS);
  }
}
