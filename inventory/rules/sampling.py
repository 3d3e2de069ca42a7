"""Attribute samples of a fleet: how many to examine, what was found in them allows to say, and which ones to examine.

Rates are shares of instruments (0.05 is one in twenty). The risk is 1 - confidence: the chance that a fleet with just
the tolerable rate of deviations passes. Sizes and limits are those of the AICPA Audit Guide Audit Sampling (2017),
Appendix A, from the binomial distribution; for a fleet of known size from the hypergeometric one, where a rate stands
for a whole number of instruments, rounded up.

No answer hangs on rounding. A chance is compared with the risk by sums of positive terms at 50 digits; after as many as
ten million terms they are right to 40, and where 30 do not decide the comparison is made in whole numbers.
"""

from __future__ import annotations

import hashlib
import itertools
import math
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Context, Decimal, localcontext
from fractions import Fraction

from core.translation import gettext as _

BINOMIAL, HYPERGEOMETRIC = "binomial", "hypergeometric"
LARGEST_SAMPLE = 1_000_000
LARGEST_FLEET = 1_000_000_000
MOST_ALLOWED = 10_000  # deviations of a plan: rates that need more are too near to each other
FINEST = 10**15  # a limit is given to 15 places, rounded up

_WORK = Context(prec=50, Emax=10**15, Emin=-(10**15))
_CLEAR = Decimal("1e-30")  # of a sum: what is nearer than this is compared in whole numbers
_TERMS = 16  # added between two comparisons


class SamplingError(ValueError):
    """No such sample or limit, with a sentence for whoever asked."""


@dataclass(frozen=True, slots=True)
class SamplePlan:
    """How many instruments to examine, and up to how many deviations among them the fleet passes."""

    size: int
    allowed: int
    model: str


@dataclass(frozen=True, slots=True)
class UpperLimit:
    """The highest rate of deviations in the fleet that what was found still allows at this confidence."""

    rate: Decimal  # to 15 places, rounded up
    percent: Decimal  # to one place, rounded up, as the tables print it
    model: str


@dataclass(frozen=True, slots=True)
class Evaluation:
    """What a finished sample says."""

    found_rate: Fraction  # deviations / size
    limit: UpperLimit
    allowed: int | None  # deviations up to which a sample of this size passes; None: it is too small to pass at all
    is_passed: bool  # the tolerable rate is not reached, at this confidence


@dataclass(frozen=True, slots=True)
class Draw:
    """One instrument drawn: its stratum, its place there, and the key that put it there."""

    stratum: str
    place: int  # from 1
    number: str
    key: str


def plan_sample(
    *, confidence: Decimal, tolerable: Decimal, expected: Decimal = Decimal(0), population: int | None = None
) -> SamplePlan:
    """Return the smallest sample whose allowed deviations are those expected in it, rounded up.

    n = min { n >= 1 : P(X <= k; n, tolerable) <= 1 - confidence }, k = the whole number from n x expected upward.
    SamplingError where rates or confidence are not rates, where the expected rate is not below the tolerable one, or
    where no sample can tell the two apart.
    """
    risk, most, likely = _risk_of(confidence), _tolerable_of(tolerable), Fraction(expected)
    if not 0 <= likely < most:
        raise SamplingError(
            _(
                "The expected rate %(expected)s must be 0 or more and below the tolerable rate %(tolerable)s.",
                expected=f"{expected:f}",
                tolerable=f"{tolerable:f}",
            )
        )
    _check_population(population)
    rates = {"expected": f"{expected:f}", "tolerable": f"{tolerable:f}"}
    for allowed, first, last in _blocks(likely, population):
        if allowed > MOST_ALLOWED:
            raise SamplingError(
                _(
                    "The expected rate %(expected)s is too close to the tolerable rate %(tolerable)s for a sample.",
                    **rates,
                )
            )

        def passes(size: int, *, allowed: int = allowed) -> bool:
            return _chances(size, most, population).is_at_most(allowed, risk)

        end = last or next(size for size in map((2).__pow__, itertools.count()) if passes(size))
        if passes(end):
            return SamplePlan(size=_first_that(passes, first, end), allowed=allowed, model=_model(population))
    raise SamplingError(
        _(
            "No sample of %(population)s can tell an expected rate of %(expected)s from a tolerable rate of "
            "%(tolerable)s: examine every one.",
            population=population,
            **rates,
        )
    )


def upper_limit(*, size: int, deviations: int, confidence: Decimal, population: int | None = None) -> UpperLimit:
    """Return the one-sided upper limit of the rate, after so many deviations in a sample of this size.

    Binomial: the rate u with P(X <= deviations; size, u) = 1 - confidence (Clopper and Pearson, Biometrika 26, 1934).
    With a population: the largest number D of deviations in it with P(X <= deviations; D) > 1 - confidence, over the
    population.
    """
    risk = _risk_of(confidence)
    _check_sample(size, deviations, population)

    def is_too_high(share: int) -> bool:
        if population is None:
            return _Chances(size, share, FINEST - share).is_at_most(deviations, risk)
        return _Chances(size, share, population - share, is_finite=True).is_at_most(deviations, risk)

    if population is not None:
        rate = Fraction(_first_that(is_too_high, 0, population + 1) - 1, population)
    elif deviations == size:
        rate = Fraction(1)
    else:
        rate = Fraction(_first_that(is_too_high, 1, FINEST), FINEST)
    return UpperLimit(
        rate=_rounded_up(rate, places=15), percent=_rounded_up(rate * 100, places=1), model=_model(population)
    )


def allowed_deviations(
    *, size: int, confidence: Decimal, tolerable: Decimal, population: int | None = None
) -> int | None:
    """Return up to how many deviations a sample of this size passes with, None if not even without any."""
    risk, most = _risk_of(confidence), _tolerable_of(tolerable)
    _check_sample(size, 0, population)
    chances = _chances(size, most, population)
    first_refused = _first_that(lambda count: not chances.is_at_most(count, risk), 0, size)
    return first_refused - 1 if first_refused else None


def evaluate_sample(
    *, size: int, deviations: int, confidence: Decimal, tolerable: Decimal, population: int | None = None
) -> Evaluation:
    """Return what so many deviations in a sample of this size say about the fleet.

    It passes where P(X <= deviations) at the tolerable rate is at most 1 - confidence: binomial, where the limit is at
    most the tolerable rate; with a population, where it is below. A sample drawn in proportion from strata is evaluated
    as one: by the binomial limit that errs on the safe side (Hoeffding, Annals of Mathematical Statistics 27, 1956).
    """
    limit = upper_limit(size=size, deviations=deviations, confidence=confidence, population=population)
    allowed = allowed_deviations(size=size, confidence=confidence, tolerable=tolerable, population=population)
    return Evaluation(
        found_rate=Fraction(deviations, size),
        limit=limit,
        allowed=allowed,
        is_passed=allowed is not None and deviations <= allowed,
    )


def allocate(size: int, strata: Mapping[str, int]) -> dict[str, int]:
    """Return how many of a sample come from each stratum, given how many instruments each has.

    In proportion, whole numbers first; what is left goes to the largest remainders, of equal ones to the larger
    stratum, then to the name that sorts first. SamplingError for more than there are.
    """
    whole = sum(strata.values())
    if not 0 <= size <= whole or any(count < 0 for count in strata.values()):
        raise SamplingError(_("A sample of %(size)s cannot be drawn from %(whole)s.", size=size, whole=whole))
    if not whole:
        return dict.fromkeys(strata, 0)
    shares = {name: divmod(size * count, whole) for name, count in strata.items()}
    left = size - sum(share for share, _rest in shares.values())
    by_rest = sorted(strata, key=lambda name: (-shares[name][1], -strata[name], name))
    extra = set(by_rest[:left])
    return {name: share + (name in extra) for name, (share, _rest) in shares.items()}


def selection_key(seed: str, number: str) -> str:
    """Return what an instrument is ordered by: the SHA-256 of "seed:number" in UTF-8, as 64 small hexadecimal digits.

    Whoever has seed and numbers draws the same sample with any tool: ``printf '%s' 'SEED:TP-0001' | sha256sum`` for each
    number, sorted; the first ones of each stratum are the sample.
    """
    return hashlib.sha256(f"{seed}:{number}".encode()).hexdigest()


def draw_sample(*, seed: str, size: int, strata: Mapping[str, Iterable[str]]) -> tuple[Draw, ...]:
    """Return the instruments to examine, strata by name, within each in order of their keys.

    ``strata`` holds the asset numbers of each stratum, as registered. Which of two instruments comes first depends on
    nothing but the seed and their numbers. SamplingError for an empty seed, a number given twice, or a sample larger
    than the fleet.
    """
    if not seed:
        raise SamplingError(_("A sample needs a seed, so that it can be drawn again."))
    lists = {name: list(numbers) for name, numbers in strata.items()}
    times = Counter(number for numbers in lists.values() for number in numbers)
    if twice := [number for number, count in times.items() if count > 1]:
        raise SamplingError(_("%(number)s is given twice.", number=min(twice)))
    counts = allocate(size, {name: len(numbers) for name, numbers in lists.items()})
    drawn = []
    for name in sorted(lists):
        ordered = sorted((selection_key(seed, number), number) for number in lists[name])
        for place, (key, number) in enumerate(ordered[: counts[name]], start=1):
            drawn.append(Draw(stratum=name, place=place, number=number, key=key))
    return tuple(drawn)


# Chances


@dataclass(frozen=True, slots=True)
class _Chances:
    """How many deviations a sample holds, drawn from ``bad`` and ``good`` instruments, or in this ratio without end."""

    size: int
    bad: int
    good: int
    is_finite: bool = False

    def odds(self, count: int) -> tuple[int, int]:
        """Return the chance of one deviation more over the chance of ``count``, as numerator and denominator."""
        if self.is_finite:
            return (self.size - count) * (self.bad - count), (count + 1) * (self.good - self.size + count + 1)
        return (self.size - count) * self.bad, (count + 1) * self.good

    def is_at_most(self, count: int, risk: Fraction) -> bool:
        """Whether P(X <= count) <= risk, for a risk between 0 and 1.

        Chances are in proportion to terms, the one of ``count`` being 1. Below and above it they are summed apart, from
        there outward; the further out, the less each is of the one before (the distributions are log-concave), so what
        is not summed yet is less than a geometric series.
        """
        lowest = max(0, self.size - self.good) if self.is_finite else 0
        highest = min(self.size, self.bad) if self.is_finite else self.size
        if count < lowest:
            return True
        if count >= highest:
            return False
        with localcontext(_WORK):
            top, bottom = self.odds(count)
            below = _Tail(self, at=count, last=lowest, is_above=False, term=Decimal(1))
            above = _Tail(self, at=count + 1, last=highest, is_above=True, term=Decimal(top) / bottom)
            yes, no = Decimal(risk.numerator), Decimal(risk.denominator - risk.numerator)
            while True:
                if (below.total + below.rest) * no <= yes * above.total * (1 - _CLEAR):
                    return True
                if below.total * no > yes * (above.total + above.rest) * (1 + _CLEAR):
                    return False
                if below.is_done and above.is_done:
                    break
                below.advance()
                above.advance()
        return self._is_at_most_exactly(count, risk)

    def _is_at_most_exactly(self, count: int, risk: Fraction) -> bool:
        size, bad, good = self.size, self.bad, self.good
        if not self.is_finite:
            whole = bad + good
            ways = sum(math.comb(size, held) * bad**held * good ** (size - held) for held in range(count + 1))
            return Fraction(ways, whole**size) <= risk
        whole = bad + good
        few, many = sorted((size, bad))  # the same chances with sample and deviations exchanged
        ways = sum(math.comb(many, held) * math.comb(whole - many, few - held) for held in range(count + 1))
        return Fraction(ways, math.comb(whole, few)) <= risk


class _Tail:
    """The sum of the terms on one side, and a bound of what is not summed yet."""

    def __init__(self, chances: _Chances, *, at: int, last: int, is_above: bool, term: Decimal) -> None:
        self.chances, self.at, self.last, self.is_above = chances, at, last, is_above
        self.term = self.total = term
        self.rest = Decimal(0) if at == last else Decimal("Infinity")

    @property
    def is_done(self) -> bool:
        return self.rest <= self.total * _CLEAR

    def advance(self) -> None:
        """Add the next terms, and bound the rest by a geometric series of the last ratio."""
        if self.is_done:
            return
        term, total, odds = self.term, self.total, self.chances.odds
        top = bottom = 1
        if self.is_above:
            end = min(self.at + _TERMS, self.last)
            for count in range(self.at, end):
                top, bottom = odds(count)
                term = term * top / bottom
                total += term
        else:
            end = max(self.at - _TERMS, self.last)
            for count in range(self.at - 1, end - 1, -1):
                bottom, top = odds(count)
                term = term * top / bottom
                total += term
        self.term, self.total, self.at = term, total, end
        if end == self.last:
            self.rest = Decimal(0)
        elif top < bottom:
            self.rest = term * top / (bottom - top)


def _first_that(holds: Callable[[int], bool], first: int, last: int) -> int:
    """Return the first number from ``first`` on that holds, where all after it do; ``last`` if none before it does."""
    return first + bisect_left(range(first, last), True, key=holds)  # noqa: FBT003 - what is looked for


def _chances(size: int, rate: Fraction, population: int | None) -> _Chances:
    if population is None:
        return _Chances(size, rate.numerator, rate.denominator - rate.numerator)
    bad = math.ceil(population * rate)
    return _Chances(size, bad, population - bad, is_finite=True)


def _blocks(expected: Fraction, population: int | None) -> Iterator[tuple[int, int, int | None]]:
    """Yield (k, first, last) for the sizes in which just k deviations are expected, rounded up; last None: without end.

    Within such a block a larger sample has the smaller chance, so its last size tells whether one of them passes.
    """
    if not expected:
        yield 0, 1, population
        return
    for allowed in itertools.count(1):
        first, last = int((allowed - 1) / expected) + 1, int(allowed / expected)
        if population is not None and first > population:
            return
        yield allowed, first, last if population is None else min(last, population)


def _model(population: int | None) -> str:
    return BINOMIAL if population is None else HYPERGEOMETRIC


def _rounded_up(rate: Fraction, *, places: int) -> Decimal:
    """Return the rate to so many places, never below it."""
    return Decimal(math.ceil(rate * 10**places)).scaleb(-places)


def _risk_of(confidence: Decimal) -> Fraction:
    if not 0 < confidence < 1:
        raise SamplingError(_("The confidence %(rate)s must be above 0 and below 1.", rate=f"{confidence:f}"))
    return 1 - Fraction(confidence)


def _tolerable_of(rate: Decimal) -> Fraction:
    if not 0 < rate < 1:
        raise SamplingError(_("The tolerable rate %(rate)s must be above 0 and below 1.", rate=f"{rate:f}"))
    return Fraction(rate)


def _check_population(population: int | None) -> None:
    if population is not None and not 1 <= population <= LARGEST_FLEET:
        raise SamplingError(
            _("The population %(count)s must be from 1 to %(most)s.", count=population, most=f"{LARGEST_FLEET:,}")
        )


def _check_sample(size: int, deviations: int, population: int | None) -> None:
    _check_population(population)
    if not 1 <= size <= LARGEST_SAMPLE:
        raise SamplingError(
            _("The sample size %(size)s must be from 1 to %(most)s.", size=size, most=f"{LARGEST_SAMPLE:,}")
        )
    if population is not None and size > population:
        raise SamplingError(_("A sample of %(size)s cannot be drawn from %(whole)s.", size=size, whole=population))
    if not 0 <= deviations <= size:
        raise SamplingError(
            _("%(deviations)s deviations do not fit a sample of %(size)s.", deviations=deviations, size=size)
        )
