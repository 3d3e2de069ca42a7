"""Notes, equal temperament, transposition, and what room temperature does to a wind instrument.

Pure arithmetic. MIDI numbers: C4 = 60, A4 = 69 = 440 Hz. Cents are positive when sharp.
"""

from __future__ import annotations

import math
import re
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

A4_HZ = 440.0
A4_MIDI = 69
CENTS_PER_OCTAVE = 1200.0
ROOM_CELSIUS = 20.0
SPEED_AT_ZERO = 331.3  # m/s in dry air at 0 degrees Celsius; common textbook figure
KELVIN_AT_ZERO = 273.15
SATURATED_TO_DRY = 3.34 / 2.953  # cents per degree at 20 degrees Celsius, air saturated with water against dry
BAR_CENTS_PER_DEGREE = (-0.21, -0.46)  # steel, aluminum
FAR_DEGREES = 10.0  # from ROOM_CELSIUS; beyond it a correction is not to be trusted
DAYS_PER_YEAR = 365.25
TURNS = 40  # enough for school tests, which share most of their notes
LEAST_DRIFT = 8.0  # cents over the whole span of the tests; shop default
# How far a whole test lies off for the day and its player, SD in cents; it counts as much as so many tests. Shop defaults.
DAY_SCATTER, DAY_WORTH = 5.0, 4
# Student's t, two-sided 5 %, for 1, 2, 3 ... degrees of freedom, as printed in every table; past the last, the last.
T_FIVE_PERCENT = (
    12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
    2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086,
)  # fmt: skip

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}
_NOTE = re.compile(r"([A-Ga-g])([#♯b♭]?)(-?\d)")
# How a beginner's book spells the black keys, unless a chart spells them otherwise.
_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def midi_of(name: str) -> int:
    """Return the MIDI number of a name such as C4, F#3, Bb2; ValueError if it is not a note."""
    match = _NOTE.fullmatch(name.strip())
    if match is None:
        raise ValueError(f"{name!r} is not a note; write it like C4, F#3 or Bb2")
    step, accidental, octave = match.groups()
    return 12 * (int(octave) + 1) + _STEPS[step.upper()] + _ACCIDENTALS[accidental]


def name_of(midi: int) -> str:
    """Return the usual name of a MIDI number: sharps for C and F, flats for E, A and B."""
    return f"{_NAMES[midi % 12]}{midi // 12 - 1}"


def frequency(midi: float) -> float:
    """Return the frequency in hertz of a MIDI number in equal temperament."""
    return A4_HZ * math.exp2((midi - A4_MIDI) / 12)


def speed_of_sound(celsius: float) -> float:
    """Return the speed of sound in dry air, in m/s: 331.3 sqrt(1 + T/273.15) (ideal gas, textbook form)."""
    return SPEED_AT_ZERO * math.sqrt(1 + celsius / KELVIN_AT_ZERO)


def temperature_cents(celsius: float) -> float:
    """Return how many cents sharper than at ROOM_CELSIUS a wind instrument plays at ``celsius``.

    Its pitch follows the speed of sound in the tube. The whole air column is taken to be at room temperature;
    a player's breath warms part of it, so this is the most that the room can account for.
    """
    return CENTS_PER_OCTAVE * math.log2(speed_of_sound(celsius) / speed_of_sound(ROOM_CELSIUS))


def room_band(celsius: float, *, is_bars: bool = False) -> tuple[float, float]:
    """Return the least and the most cents sharper than at ROOM_CELSIUS that a room at ``celsius`` makes an instrument.

    Winds: from dry air to air saturated with water; no coefficient by family is published. Bars go the other way, flat
    as they warm: from steel to aluminum, worked from the metals' elasticity and expansion.
    """
    degrees = celsius - ROOM_CELSIUS
    if is_bars:
        ends = [rate * degrees for rate in BAR_CENTS_PER_DEGREE]
    else:
        ends = [temperature_cents(celsius), temperature_cents(celsius) * SATURATED_TO_DRY]
    return min(ends), max(ends)


def leveled(tests: Sequence[Mapping[str, float]]) -> list[float]:
    """Return the pitch of each test in cents, put right for which notes it happened to measure.

    A test that leaves out the notes an instrument is always sharp at would look flat by its plain mean. So each
    measurement is taken as its test's pitch plus its note's own error, both by least squares (found by turns from the
    plain means, so that tests with no note in common keep theirs). With the same notes in all tests it is the plain
    mean.
    """
    errors: dict[str, float] = {name: 0.0 for test in tests for name in test}
    levels = [statistics.fmean(test.values()) for test in tests]
    for _ in range(TURNS):
        for name in errors:
            errors[name] = statistics.fmean(
                test[name] - level for test, level in zip(tests, levels, strict=True) if name in test
            )
        levels = [statistics.fmean(cents - errors[name] for name, cents in test.items()) for test in tests]
    return levels


@dataclass(frozen=True, slots=True)
class Drift:
    """How an instrument's pitch moves from test to test."""

    cents_per_year: float
    change: float  # from the first test to the last along the fitted line, cents
    is_flagged: bool


def drift(*, tests: Sequence[tuple[date, float]]) -> Drift | None:
    """Return the trend of dated deviations (least squares), or None with fewer than three tests on two days.

    Flagged when a pitch that holds would show such a slope in about one case in twenty at most (Student's t test, with
    DAY_SCATTER known beforehand as if from DAY_WORTH tests), and when the change over the whole span passes LEAST_DRIFT,
    which is what a player would notice.
    """
    years = [(on - min(day for day, _ in tests)).days / DAYS_PER_YEAR for on, _ in tests] if tests else []
    if len(tests) < 3 or max(years) == 0:  # a line through two points has no error to judge
        return None
    cents = [one for _, one in tests]
    slope, start = statistics.linear_regression(years, cents)
    left = sum((one - start - slope * year) ** 2 for year, one in zip(years, cents, strict=True))
    middle = statistics.fmean(years)
    freedom = len(tests) - 2 + DAY_WORTH
    scatter = (left + DAY_WORTH * DAY_SCATTER**2) / freedom
    error = math.sqrt(scatter / sum((year - middle) ** 2 for year in years))
    change = slope * max(years)
    limit = T_FIVE_PERCENT[min(freedom, len(T_FIVE_PERCENT)) - 1]
    return Drift(
        cents_per_year=slope,
        change=change,
        is_flagged=abs(slope) > limit * error and abs(change) >= LEAST_DRIFT,
    )
