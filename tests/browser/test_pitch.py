"""What the phone hears, against tones whose frequency is known because they are made here (no outside source needed)."""

from __future__ import annotations

from typing import Any

import pytest

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.rules.pitch import frequency, midi_of
from inventory.rules.playing import level_notes, level_span, playing
from inventory.rules.playing.fitness import LEVELS

CLOSE_CENTS = 3.0
OFFSETS = (-47.0, -3.0, 0.0, 38.0)
# Relative strengths of the harmonics: a sine, a bright brass tone, a fundamental almost lost, odd ones alone (clarinet).
SHAPES = {
    "sine": [1.0],
    "rich harmonics": [1, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.25, 0.2, 0.15, 0.1, 0.08],
    "weak fundamental": [0.15, 1, 0.9, 0.7, 0.5, 0.4, 0.3, 0.2],
    "odd harmonics": [1, 0, 0.7, 0, 0.5, 0, 0.3, 0, 0.2],
}
TUBA_E1 = 28

HEAR = """async ({notes, offsets, shape, noise, rate, vibrato, volume}) => {
  const { pitchOf, windowFor, centsBetween, HeldNote } = await import('/static/js/pitch.js');
  let seed = 7;
  const random = () => { seed = (seed * 1664525 + 1013904223) % 4294967296; return seed / 4294967296; };
  const normal = () => Math.sqrt(-2 * Math.log(random() + 1e-12)) * Math.cos(2 * Math.PI * random());
  const strength = Math.sqrt(shape.reduce((sum, one) => sum + one * one / 2, 0));
  const heard = [];
  for (const wanted of notes) for (const offset of offsets) {
    const hertz = wanted * 2 ** (offset / 1200);
    const size = windowFor(wanted, rate);
    const begin = random() * 6;
    const sample = (i) => {
      const t = begin + i / rate;
      const sway = vibrato ? hertz * (2 ** (vibrato / 1200) - 1) / (2 * Math.PI * 5.5) * Math.sin(2 * Math.PI * 5.5 * t) : 0;
      let value = 0;
      shape.forEach((one, number) => {
        if (hertz * (number + 1) < rate * 0.45) value += one * Math.sin(2 * Math.PI * (number + 1) * (hertz * t + sway) + number);
      });
      return volume * (value / strength + noise * normal());
    };
    if (!vibrato) {
      const reading = pitchOf(Float32Array.from({ length: size }, (_, i) => sample(i)), rate);
      heard.push([wanted, offset, reading ? centsBetween(reading.hertz, hertz) : null]);
      continue;
    }
    // With vibrato a single reading sways; the held note is what is kept.
    const held = new HeldNote(wanted);
    let done = null;
    for (let at = 0; at < 3000 && done === null; at += 55) {
      const first = Math.floor(at * rate / 1000);
      done = held.hear(pitchOf(Float32Array.from({ length: size }, (_, i) => sample(first + i)), rate), at).done;
    }
    heard.push([wanted, offset, done === null ? null : done - offset]);
  }
  return heard;
}"""


def sounding_notes() -> list[int]:
    """MIDI numbers that some kind sounds at some level, and the full sounding range of the kinds that state one."""
    found, trade = {TUBA_E1}, {"faults": catalog().faults, "roles": catalog().roles}
    for kind in catalog().kinds.values():
        for level in LEVELS:
            if level_span(kind, level=level) and level_notes(kind=kind, chart=chart_of(kind, {}), level=level):
                report = playing(kind=kind, chart=chart_of(kind, {}), options={}, findings=(), level=level, **trade)
                found |= {note.sounding for note in report.notes}
        if kind.sounding:
            found |= {midi_of(kind.sounding[0]), midi_of(kind.sounding[1])}
    return sorted(found)


@pytest.fixture
def hear(open_page):
    page = open_page()
    page.goto("/log-in/")

    def run(notes: list[int], **tone: Any) -> list[tuple[float, float, float | None]]:
        asked = {"offsets": list(OFFSETS), "noise": 0.0, "rate": 48_000, "vibrato": 0, "volume": 0.3} | tone
        return page.evaluate(HEAR, asked | {"notes": [frequency(note) for note in notes]})

    return run


def off(heard: list[tuple[float, float, float | None]], *, by: float = CLOSE_CENTS) -> list[Any]:
    return [one for one in heard if one[2] is None or abs(one[2]) > by]


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("rate", [pytest.param(44_100, marks=pytest.mark.drill), 48_000])
def test_steady_tones_of_every_kind_are_heard_within_three_cents(hear, shape, rate):
    notes = sounding_notes()
    assert notes[0] <= TUBA_E1
    assert off(hear(notes, shape=SHAPES[shape], rate=rate)) == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    "shape", ["weak fundamental", *(pytest.param(one, marks=pytest.mark.drill) for one in SHAPES if one[0] != "w")]
)
def test_noise_at_a_tenth_of_the_tone_changes_nothing(hear, shape):
    assert off(hear(sounding_notes(), shape=SHAPES[shape], noise=0.1)) == []


@pytest.mark.django_db(transaction=True)
def test_a_note_held_with_vibrato_is_heard_by_its_middle(hear):
    """Vibrato of 15 cents either way at 5.5 a second, as a young player's."""
    notes = [midi_of(name) for name in ("E1", "Bb1", "F2", "Bb2", "F3", "C4", "A4", "D5", "A5")]
    assert off(hear(notes, shape=SHAPES["rich harmonics"], vibrato=15, offsets=[-10.0, 12.0]), by=5.0) == []


@pytest.mark.django_db(transaction=True)
def test_noise_alone_and_silence_are_no_note(hear):
    silence = hear([60], shape=[1.0], volume=0.0, offsets=[0.0])
    hiss = hear([60], shape=[1.0], noise=30.0, volume=0.01, offsets=[0.0])
    assert [one[2] for one in (*silence, *hiss)] == [None, None]


BEGUN = """async (silent) => {
  const { pitchOf } = await import('/static/js/pitch.js');
  return pitchOf(Float32Array.from({ length: 8192 }, (_, i) => (i < silent ? 0 : 0.3 * Math.sin(2 * Math.PI * 440 * i / 48000))), 48000);
}"""


@pytest.mark.django_db(transaction=True)
def test_a_tone_that_has_just_begun_is_heard_by_its_own_pitch(open_page):
    page = open_page()
    page.goto("/log-in/")
    assert [page.evaluate(BEGUN, silent)["hertz"] for silent in (4096, 5000)] == pytest.approx([440, 440], abs=2)


FOLLOW = """async ({readings, wanted, taken}) => {
  const { HeldNote } = await import('/static/js/pitch.js');
  const held = new HeldNote(wanted, 0, taken);
  let last = null;
  readings.forEach((cents, i) => {
    const told = held.hear(cents === null ? null : { hertz: wanted * 2 ** (cents / 1200) }, i * 55);
    if (told.done !== null && !last) last = [told.done, told.width];
  });
  return last;
}"""
STEADY = 30  # readings of 55 ms: longer than a note has to be held


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("readings", "taken", "heard"),
    [
        ([-30.0] * STEADY, [], -30.0),
        ([66.0] * STEADY, [], None),  # the half step above, 34 cents flat: another note
        ([-60.0] * STEADY, [], -60.0),
        ([-61.0] * STEADY, [], None),
        ([-85.0] * STEADY, [-40.0, -38.0, -42.0], -85.0),  # within 50 of the instrument's own pitch
        ([-91.0] * STEADY, [-40.0, -38.0, -42.0], None),
        ([11.0] * STEADY, [-40.0, -38.0, -42.0], None),
        ([-55.0, -48.0, -40.0, -30.0, -20.0, -10.0, *[4.0] * STEADY], [], 4.0),  # a scoop
        ([None, 10.0, 10.0, None], [], None),
    ],
)
def test_only_the_wanted_note_of_this_instrument_counts_once_it_has_settled(open_page, readings, taken, heard):
    page = open_page()
    page.goto("/log-in/")
    told = page.evaluate(FOLLOW, {"readings": readings, "wanted": 233.08, "taken": taken})
    assert (told is None) is (heard is None)
    if heard is not None:
        assert told[0] == pytest.approx(heard, abs=2.0)


@pytest.mark.django_db(transaction=True)
def test_wide_vibrato_counts_by_its_mean_and_its_width_is_told(open_page):
    page = open_page()
    page.goto("/log-in/")
    swing = [8.0 + 30.0 * (-1) ** (number // 2) for number in range(60)]  # 4.5 turns a second, 30 cents to either side
    mean, width = page.evaluate(FOLLOW, {"readings": swing, "wanted": 233.08, "taken": []})
    assert mean == pytest.approx(8, abs=5)
    assert width == pytest.approx(60, abs=1)


GATE = """async ({room, taken, loud}) => {
  const { LevelGate } = await import('/static/js/pitch.js');
  const gate = new LevelGate();
  room.forEach((one) => gate.hear(one));
  taken.forEach((one) => gate.take(one));
  return gate.hear(loud);
}"""


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("room", "taken", "loud", "is_open"),
    [
        ([0.02], [], 0.02, False),  # a hum, and nobody plays
        ([0.02], [], 0.05, False),
        ([0.02], [], 0.07, True),
        ([0.0001], [], 0.003, False),
        ([0.0001], [0.3, 0.2, 0.25], 0.025, False),  # somebody else, 20 dB down
        ([0.0001], [0.3, 0.2, 0.25], 0.08, True),
    ],
)
def test_what_is_not_loud_enough_to_be_this_instrument_is_not_listened_to(open_page, room, taken, loud, is_open):
    page = open_page()
    page.goto("/log-in/")
    told = page.evaluate(GATE, {"room": room, "taken": taken, "loud": loud})
    assert told["open"] is is_open
    assert 0 <= told["share"] <= 1
