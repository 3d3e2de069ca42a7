"""How long instruments of a kind last, in years of age, and what the district's own retirements say about it.

The curve is Weibull's: of so many new ones exp(-(age / scale)^shape) are still in use at an age (W. Weibull, Journal of
Applied Mechanics 18, 1951). It is fitted by maximum likelihood. An instrument that is still in use, or left for another
reason than its age and condition (sold, transferred, stolen), speaks for the years in which it was seen and no further
(right censoring). One that was old when the register began is counted from then on only: others as old that had gone
before were never entered (left truncation). Without this, a register of old instruments would promise long lives.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy import optimize

ENOUGH_FOR_BOTH = 20  # retirements from which on shape and scale are learned (common practice, no source)
ENOUGH_FOR_SCALE = 5  # and from which on the scale is, with the shape as it was
YOUNGEST = 1 / 365  # years; nothing is retired at age 0
_FLATTEST, _STEEPEST = 0.3, 20.0  # shapes that are looked at


class Origin(StrEnum):
    """Where the parameters of a curve come from."""

    LIFE_SPAN = "life_span"  # the lives that the catalog states for the kind
    SCALE_LEARNED = "scale_learned"
    LEARNED = "learned"


@dataclass(frozen=True, slots=True)
class SeenLife:
    """One instrument as long as the register saw it. Ages in years."""

    age_years: float  # today, or when it left
    is_retired: bool  # worn out, past repair or past its life; not sold, transferred or stolen
    seen_from_years: float = 0.0  # its age when it was entered


@dataclass(frozen=True, slots=True)
class SurvivorCurve:
    """How many are left at an age; shape above 1: the older, the sooner."""

    shape: float
    scale_years: float  # the age that 36.8% reach
    origin: Origin = Origin.LIFE_SPAN
    retirements: int = 0  # that it was learned from

    @property
    def mean_years(self) -> float:
        return self.scale_years * math.gamma(1 + 1 / self.shape)

    def surviving(self, age_years: float) -> float:
        """Return the share of new ones that are still in use at this age."""
        return math.exp(-self._wear(age_years))

    def wear_out_chance(self, *, age_years: float, years: float) -> float:
        """Return the chance that one of this age wears out within so many years more."""
        return -math.expm1(self._wear(age_years) - self._wear(age_years + years))

    def age_when(self, share: float) -> float:
        """Return the age at which this share of new ones is still in use."""
        return float(self.scale_years * (-math.log(share)) ** (1 / self.shape))

    def _wear(self, age_years: float) -> float:
        return float((max(age_years, 0.0) / self.scale_years) ** self.shape)


def curve_of_span(low_years: float, high_years: float) -> SurvivorCurve:
    """Return the curve of a kind said to last from ``low_years`` to ``high_years``: the middle half goes in that time.

    That half of them do is common practice, no source; the district's retirements take over as soon as there are enough.
    """
    if not 0 < low_years < high_years:
        raise ValueError(f"{low_years:g} to {high_years:g} years is no span of lives")
    early, late = math.log(4 / 3), math.log(4)  # wear when a quarter has gone, and when three quarters have
    shape = math.log(late / early) / math.log(high_years / low_years)
    return SurvivorCurve(shape=shape, scale_years=high_years / late ** (1 / shape))


def learn_curve(lives: Sequence[SeenLife], *, start: SurvivorCurve) -> SurvivorCurve:
    """Return the curve that makes what was seen likeliest; ``start`` where fewer than 5 were retired, or nothing was seen.

    From 5 retirements on the scale is learned at the shape of ``start``, from 20 on both are. ValueError for a life
    that ended before it was seen.
    """
    if any(not 0 <= life.seen_from_years <= life.age_years for life in lives):
        raise ValueError("an instrument is seen from an age on that it had, and not before it was new")
    retirements = sum(life.is_retired for life in lives)
    if retirements < ENOUGH_FOR_SCALE or all(life.age_years == life.seen_from_years for life in lives):
        return start
    likelihood = _Likelihood(lives)
    if retirements < ENOUGH_FOR_BOTH:
        shape, origin = start.shape, Origin.SCALE_LEARNED
    else:
        shape, origin = likelihood.best_shape(), Origin.LEARNED
    return SurvivorCurve(shape=shape, scale_years=likelihood.best_scale(shape), origin=origin, retirements=retirements)


class _Likelihood:
    """Of a shape, at the scale that suits it best: scale^shape = sum of (age^shape - seen from^shape) / retirements."""

    def __init__(self, lives: Sequence[SeenLife]) -> None:
        ages = np.maximum([life.age_years for life in lives], YOUNGEST)
        self.oldest = float(ages.max())  # ages are taken as shares of it, so that no power overflows
        self.ends = ages / self.oldest
        self.starts = np.array([life.seen_from_years for life in lives]) / self.oldest
        retired = self.ends[[life.is_retired for life in lives]]
        self.count, self.mean_log = len(retired), float(np.log(retired).mean())

    def best_scale(self, shape: float) -> float:
        return float(self.oldest * self._exposure(shape) ** (1 / shape))

    def best_shape(self) -> float:
        """Return the likeliest shape: the best of a coarse row of them, then the top of the hill it stands on."""
        row = np.geomspace(_FLATTEST, _STEEPEST, 60)
        best = row[np.argmin([self._unlikely(shape) for shape in row])]
        step = row[1] / row[0]
        bounds = np.clip([best / step, best * step], _FLATTEST, _STEEPEST)
        return float(optimize.minimize_scalar(self._unlikely, bounds=bounds, options={"xatol": 1e-9}).x)

    def _exposure(self, shape: float) -> float:
        return float(np.sum(self.ends**shape - self.starts**shape)) / self.count

    def _unlikely(self, shape: float) -> float:
        """Return minus the logarithm of the likelihood per retirement, but for what does not depend on the shape."""
        return -(math.log(shape) - math.log(self._exposure(shape)) + shape * self.mean_log)
