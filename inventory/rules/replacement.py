"""What replacing instruments will cost: by year with its spread, which to replace first, and a steady yearly budget.

An instrument whose repair costs more than the limit of its kind is replaced in the first year; any other wears out in a
year by the curve of its kind and its age (``survivors.py``). What is worn out is replaced by a new one at the end of the
year, which grows old in turn. Instruments wear out independently of each other, and the curves are taken as they are:
the spread is that of chance alone, so with few retirements to learn from the truth may lie further out.

Nothing is simulated. The money of a year is a sum of independent payments, and its distribution is their convolution.
Amounts are put on a lattice of the prices' greatest common divisor, where it is exact, or, in a large fleet, of a step so
small that it moves no result by more than a hundredth of the standard deviation.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache, cached_property

import numpy as np
from numpy.typing import NDArray

from core.money import cents, dollars
from core.translation import gettext as _
from inventory.rules.survivors import SurvivorCurve

YEARS = 10
LOW, HIGH = 0.1, 0.9  # P10 and P90
_EXACT_POINTS, _POINTS = 2**16, 2**14  # of a lattice, at most: of whole divisors, of a step
_DEVIATIONS, _PAYMENTS = 24.0, 20.0  # standard deviations and single payments that it spans
_NEAR = 1e-12  # chances nearer than this are the same
# Logarithms: of odds that count as even, and of the first term of a series left out (negative).
_EVEN, _LAST = 0.01, 36.0


_Part = tuple[int, NDArray[np.float64]]  # chances of start, start + 1, … steps


@dataclass(frozen=True, slots=True)
class FleetUnit:
    """One instrument of the fleet today. Money in dollars of today."""

    number: str
    curve: SurvivorCurve
    age_years: float | None  # None: nobody knows; then half of an average life is assumed
    replacement_amount: Decimal
    repair_amount: Decimal = Decimal(0)  # to playing condition
    repair_limit: Decimal = Decimal(1)  # share of replacement value beyond which it is not repaired

    @property
    def age(self) -> float:
        return self.curve.mean_years / 2 if self.age_years is None else self.age_years

    @property
    def is_past_repair(self) -> bool:
        return self.repair_amount > self.repair_limit * self.replacement_amount

    @property
    def wear_out_chance(self) -> float:
        """The chance that it has to be replaced within the year."""
        return 1.0 if self.is_past_repair else self.curve.wear_out_chance(age_years=self.age, years=1)


@dataclass(frozen=True, slots=True)
class NeedYear:
    """What is to be replaced in one year from now, 1 being the next twelve months. Money in dollars of that year."""

    year: int
    count: float  # on average
    mean_amount: Decimal
    low_amount: Decimal  # one year in ten needs no more
    high_amount: Decimal  # nine years in ten need no more


@dataclass(frozen=True, slots=True)
class Candidate:
    """One instrument in the order of replacing, with the reason for its place."""

    number: str
    wear_out_chance: float
    amount: Decimal
    words: str


def replacement_need(
    units: Iterable[FleetUnit], *, price_growth: Decimal = Decimal(0), years: int = YEARS
) -> tuple[NeedYear, ...]:
    """Return the need by year; the first at prices of today, each later one at ``price_growth`` a year more.

    Ages are taken to the quarter of a year.
    """
    fleet = _Fleet.of(units, years=years)
    needs = []
    for index in range(years):
        payments = fleet.payments(index)
        low, high = payments.quantiles((LOW, HIGH))
        growth = (1 + price_growth) ** index
        needs.append(
            NeedYear(
                year=index + 1,
                count=payments.count,
                mean_amount=cents(payments.mean * growth),
                low_amount=cents(low * growth),
                high_amount=cents(high * growth),
            )
        )
    return tuple(needs)


def expected_need(units: Iterable[FleetUnit]) -> tuple[float, Decimal]:
    """Return how many are replaced within a year on average, and for how much; what is quick to know of a NeedYear."""
    payments = _Fleet.of(units, years=1).payments(0)
    return payments.count, cents(payments.mean)


def yearly_chances(
    curve: SurvivorCurve, *, age_years: float, is_past_repair: bool = False, years: int = YEARS
) -> tuple[float, ...]:
    """Return the chance of each year that what stands in this place, the first one or a later, is replaced in it.

    The renewal equation (any text on renewal theory): u_j = f_j + sum over i < j of u_i q_(j-i), f for what stands
    there today and q for a new one.
    """

    def by_year(age: float) -> list[float]:
        left = 1.0
        chances = []
        for year in range(years):
            gone = curve.wear_out_chance(age_years=age + year, years=1)
            chances.append(left * gone)
            left *= 1 - gone
        return chances

    first, new = [1.0] + [0.0] * (years - 1) if is_past_repair else by_year(age_years), by_year(0.0)
    renewed: list[float] = []
    for year in range(years):
        later = math.fsum(chance * new[year - before - 1] for before, chance in enumerate(renewed))
        renewed.append(min(first[year] + later, 1.0))
    return tuple(renewed)


@dataclass(frozen=True)
class _Fleet:
    """Instruments that are alike, counted: of each sort the price in cents, and the chance of each year."""

    amounts: NDArray[np.int64]
    chances: NDArray[np.float64]  # sorts, years
    numbers: NDArray[np.int64]

    @classmethod
    def of(cls, units: Iterable[FleetUnit], *, years: int) -> _Fleet:
        @cache
        def chances(curve: SurvivorCurve, quarters: int, *, is_past: bool) -> tuple[float, ...]:
            return yearly_chances(curve, age_years=quarters / 4, is_past_repair=is_past, years=years)

        sorts = Counter(
            (unit.replacement_amount, unit.curve, round(unit.age * 4), unit.is_past_repair) for unit in units
        )
        each = [chances(curve, quarters, is_past=is_past) for _amount, curve, quarters, is_past in sorts]
        return cls(
            np.array([_in_cents(amount) for amount, *_rest in sorts], dtype=np.int64),
            np.array(each, dtype=np.float64).reshape(len(sorts), years),
            np.array([*sorts.values()], dtype=np.int64),
        )

    def payments(self, year: int) -> _Payments:
        return _Payments(self.amounts, self.chances[:, year], self.numbers)


@dataclass(frozen=True)
class _Payments:
    """What may have to be paid in a year: of each sort the amount in cents, its chance, and how many there are."""

    amounts: NDArray[np.int64]
    chances: NDArray[np.float64]
    numbers: NDArray[np.int64]

    @cached_property
    def count(self) -> float:
        return math.fsum(self.chances * self.numbers)

    @cached_property
    def mean(self) -> Decimal:
        """In dollars."""
        return Decimal(math.fsum(self.amounts * self.chances * self.numbers)) / 100

    def quantiles(self, shares: Sequence[float]) -> tuple[Decimal, ...]:
        some = (self.amounts > 0) & (self.chances > 0)
        paid = _Payments(self.amounts[some], self.chances[some], self.numbers[some])
        spread = paid.spread
        step, is_exact = paid.lattice(most=spread)
        steps = np.rint(paid.amounts / step).astype(np.int64)
        mean = math.fsum(steps * paid.numbers * paid.chances)
        length = _length(spread / step)
        start, mass = _unrolled(np.fft.irfft(_spectrum(steps, paid, length=length), length), mean=mean)
        moved = 0.0 if is_exact else step * mean - float(paid.mean) * 100  # by rounding the amounts
        reached = np.cumsum(mass)
        places = (min(int(np.searchsorted(reached, share - _NEAR)), length - 1) for share in shares)
        return tuple(cents(Decimal(max(step * (start + place) - moved, 0.0)) / 100) for place in places)

    @property
    def spread(self) -> float:
        """The width in cents that all but next to no chance lies in, around the mean."""
        amounts = self.amounts.astype(np.float64)
        variance = math.fsum(self.numbers * self.chances * (1 - self.chances) * amounts**2)
        largest, whole = float(amounts.max(initial=0.0)), math.fsum(amounts * self.numbers)
        return min(_DEVIATIONS * math.sqrt(variance) + _PAYMENTS * largest, 2 * whole)

    def lattice(self, *, most: float) -> tuple[int, bool]:
        """Return the step in cents that amounts are counted in, and whether they all are whole multiples of it."""
        unit = int(np.gcd.reduce(self.amounts)) if len(self.amounts) else 1
        if most / unit <= _EXACT_POINTS:
            return unit, True
        return unit * math.ceil(most / unit / _POINTS), False


def replace_first(units: Iterable[FleetUnit], *, most: int | None = None) -> tuple[Candidate, ...]:
    """Return the instruments in the order of replacing, the first ``most`` of them where that is given.

    Past repair first, the one before whose repair is the larger share of a new one; then by the chance to wear out.
    """

    def rank(unit: FleetUnit) -> tuple[bool, Decimal, float, str]:
        past = unit.is_past_repair
        share = unit.repair_amount / unit.replacement_amount if past and unit.replacement_amount else Decimal(0)
        return not past, -share, -unit.wear_out_chance, unit.number

    return tuple(
        Candidate(unit.number, unit.wear_out_chance, unit.replacement_amount, _why(unit))
        for unit in sorted(units, key=rank)[:most]
    )


def steady_budget(units: Iterable[FleetUnit]) -> Decimal:
    """Return the dollars a year, at prices of today, that keep a fleet of this make-up as old and as sound as it is.

    Every place is renewed once in an average life, whatever stands in it today (the elementary renewal theorem, any
    text on renewal theory): the sum of replacement amount / mean life. With less the fleet ages.
    """
    places = Counter((unit.curve, unit.replacement_amount) for unit in units)
    yearly = (amount * number / Decimal(curve.mean_years) for (curve, amount), number in places.items())
    return cents(sum(yearly, Decimal(0)))


def _why(unit: FleetUnit) -> str:
    if unit.is_past_repair:
        return _(
            "its repair costs %(repair)s, more than %(limit)s of %(price)s for a new one",
            repair=dollars(unit.repair_amount),
            limit=f"{unit.repair_limit * 100:.0f}%",
            price=dollars(unit.replacement_amount),
        )
    figures = {
        "mean": f"{unit.curve.mean_years:.1f}".removesuffix(".0"),
        "left": _percent(unit.curve.surviving(unit.age)),
        "chance": _percent(unit.wear_out_chance),
    }
    if unit.age_years is None:
        return _("age not known, taken as half of %(mean)s years; %(chance)s of such wear out within a year", **figures)
    return _(
        "%(age)s years old, %(mean)s on average; %(left)s get this old, %(chance)s of those wear out within a year",
        age=f"{unit.age_years:.0f}",
        **figures,
    )


def _percent(share: float) -> str:
    """Return whole percents; what is next to nothing or next to all is not said to be it."""
    if share < 0.01:
        return _("under 1%")
    return _("over 99%") if share > 0.99 else f"{share * 100:.0f}%"


def _in_cents(amount: Decimal) -> int:
    return int(cents(amount) * 100)


def _spectrum(steps: NDArray[np.int64], paid: _Payments, *, length: int) -> NDArray[np.complex128]:
    """Return the transform of the distribution of the sum: the product of (1 - p + p z^steps)^number.

    Its logarithm is a sum, in which each payment is a power series, of r = p / (1 - p) where p is below a half:
    log(1 - p) + r z^steps - r^2 z^(2 steps) / 2 + …, and above it the same of what is not paid. So all of them go into
    one array, transformed once. Next to a half the series takes too long: those are multiplied.
    """
    places = np.arange(length // 2 + 1)
    circle = np.exp(-2j * np.pi * np.arange(length) / length)
    with np.errstate(divide="ignore"):
        odds = np.log(paid.chances) - np.log1p(-paid.chances)
    is_even, is_likely = np.abs(odds) < _EVEN, odds > 0
    terms = np.zeros(length)
    signed, rates = np.where(is_likely, -steps, steps), -np.abs(odds)
    rows = np.flatnonzero(~is_even & np.isfinite(odds))
    needed = np.ceil((_LAST + np.log(paid.numbers[rows])) / -rates[rows]).astype(np.int64)
    rows = rows[np.argsort(-needed)]
    needed = -np.sort(-needed)
    for power in range(1, int(needed.max(initial=0)) + 1):
        some = rows[: np.searchsorted(-needed, -power, side="right")]
        sizes = paid.numbers[some] * np.exp(power * rates[some]) / power
        np.add.at(terms, signed[some] * power % length, sizes if power % 2 else -sizes)
    logs = np.fft.rfft(terms)
    shift = int((steps * paid.numbers)[is_likely & ~is_even].sum())
    found: NDArray[np.complex128] = np.exp(logs - logs[0].real) * circle[places * (shift % length) % length]
    for row in np.flatnonzero(is_even):
        chance = paid.chances[row]
        found *= (1 - chance + chance * circle[places * (steps[row] % length) % length]) ** paid.numbers[row]
    return found


def _length(spread: float) -> int:
    """Return the power of two above a spread of so many points."""
    return 1 << math.ceil(spread + 2).bit_length()


def _unrolled(mass: NDArray[np.float64], *, mean: float) -> _Part:
    """Return chances that stand modulo the length of the array in their order around the mean."""
    start = max(math.floor(mean) - len(mass) // 2, 0)
    return start, np.maximum(np.roll(mass, -(start % len(mass))), 0.0)
