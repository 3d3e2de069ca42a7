"""Were the promises kept? How often the truth stayed under what was promised at half and at four chances in five."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from core.translation import gettext as _
from repairs.rules.odds import Interval, exact_interval


@dataclass(frozen=True, slots=True)
class Promise:
    """Attended minutes of one job: promised before its first step, and what they came to."""

    key: str
    p50: float
    p80: float
    truth: float

    @property
    def is_over(self) -> bool:
        """Whether it took longer than four promises in five may."""
        return self.truth > self.p80

    @property
    def minutes_over(self) -> float:
        return self.truth - self.p80


@dataclass(frozen=True, slots=True)
class Kept:
    """How many promises the truth stayed under, with exact 95% limits of the share."""

    jobs: int
    under_p50: int
    under_p80: int

    @property
    def p50_limits(self) -> Interval:
        return exact_interval(freed=self.under_p50, tries=self.jobs)

    @property
    def p80_limits(self) -> Interval:
        return exact_interval(freed=self.under_p80, tries=self.jobs)

    @property
    def limits_words(self) -> str:
        """Say both limits: "30 to 70% and 65 to 96%"."""
        half, most = self.p50_limits, self.p80_limits
        spans = [_("%(low)s to %(high)s", low=f"{one.low:.0%}", high=f"{one.high:.0%}") for one in (half, most)]
        return _("%(half)s and %(most)s", half=spans[0], most=spans[1])

    @property
    def verdict(self) -> str:
        """Say whether the shares agree with a half and four fifths, as far as so few jobs can tell."""
        if not self.jobs:
            return _("no finished job to judge by yet")
        low, high = self.p80_limits.low, self.p80_limits.high
        half = self.p50_limits
        if low <= 0.8 <= high and half.low <= 0.5 <= half.high:
            return _("these promises hold, as far as so many jobs can tell")
        if high < 0.8 or half.high < 0.5:
            return _("jobs take longer than promised")
        return _("jobs take less than promised")


def promises_kept(promises: Iterable[Promise]) -> Kept:
    """Count; a job that took exactly what was promised kept it."""
    listed = list(promises)
    return Kept(
        jobs=len(listed),
        under_p50=sum(one.truth <= one.p50 for one in listed),
        under_p80=sum(one.truth <= one.p80 for one in listed),
    )
