"""What the district's own tries say about a rung, beside the starting guess."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from scipy import special

from core.translation import gettext as _

PRIOR_WEIGHT = 4.0  # tries that the starting guess is worth
FINE_TRIES = 5  # tries of one kind and role before they speak for themselves
STARTING_GUESS, ALL_KINDS = "starting_guess", "all_kinds"  # codes in `Posterior.scope`, not shown


@dataclass(frozen=True, slots=True)
class Tally:
    """Tries of one rung and how many of them freed the part."""

    freed: int = 0
    tries: int = 0


@dataclass(frozen=True, slots=True)
class Try:
    """One recorded try at a rung, or ``count`` alike."""

    ladder: str
    rung: str
    kind: str
    role: str
    is_freed: bool
    count: int = 1


@dataclass(frozen=True, slots=True)
class Interval:
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Posterior:
    """A Beta belief about the chance that a rung frees a part that resisted the rungs before it."""

    alpha: float
    beta: float
    default_p: float
    freed: int
    tries: int
    scope: str  # STARTING_GUESS, ALL_KINDS, or the kind and role the tries come from

    @property
    def mean(self) -> float:
        return self.alpha / (self.alpha + self.beta)

    def quantile(self, share: float) -> float:
        """Return the value that the true chance stays under with this probability."""
        if self.alpha <= 0.0 or self.beta <= 0.0:
            return self.mean
        return float(special.betaincinv(self.alpha, self.beta, share))

    def interval(self, *, level: float = 0.8) -> Interval:
        """Return the equal-tailed interval of the belief."""
        tail = (1.0 - level) / 2.0
        return Interval(low=self.quantile(tail), high=self.quantile(1.0 - tail))

    @property
    def sentence(self) -> str:
        """Return what the page says: the local record and the guess it started from."""
        data = {"guess": f"{self.default_p * 100:.0f}%", "freed": self.freed, "tries": self.tries, "scope": self.scope}
        if not self.tries:
            return _("not tried here yet; starting guess %(guess)s", **data)
        if self.scope == ALL_KINDS:
            return _("freed %(freed)s of %(tries)s here; starting guess %(guess)s", **data)
        return _("freed %(freed)s of %(tries)s here on %(scope)s; starting guess %(guess)s", **data)


@dataclass(frozen=True, slots=True)
class Odds:
    """The district's tallies per rung. Empty: starting guesses only.

    Odds are conditional: each try counts where it was made, after the rungs before it had failed, so a rung that only
    hard cases reach looks weak and is compared only with cases that reached it. A try that came first on its part is
    no evidence about a rung further up, and is counted under its own rung alone.
    """

    by_rung: Mapping[tuple[str, str], Tally] = field(default_factory=dict)
    by_kind_and_role: Mapping[tuple[str, str, str, str], Tally] = field(default_factory=dict)
    prior_weight: float = PRIOR_WEIGHT
    fine_tries: int = FINE_TRIES

    def posterior(self, *, ladder: str, rung: str, default_p: float, kind: str = "", role: str = "") -> Posterior:
        """Return the belief: Beta(weight * p + freed, weight * (1 - p) + failed).

        With enough tries for this kind and role, the belief of all kinds takes the place of the starting guess and
        those tries are taken out of it, so that none counts twice.
        """
        coarse = self.by_rung.get((ladder, rung), Tally())
        fine = self.by_kind_and_role.get((ladder, rung, kind, role), Tally())
        if fine.tries < self.fine_tries:
            scope = ALL_KINDS if coarse.tries else STARTING_GUESS
            return self._update(default_p, default_p=default_p, tally=coarse, scope=scope)
        others = Tally(freed=coarse.freed - fine.freed, tries=coarse.tries - fine.tries)
        start = self._update(default_p, default_p=default_p, tally=others, scope="").mean
        words = f"{kind} {role}".replace("_", " ").strip()
        return self._update(start, default_p=default_p, tally=fine, scope=words)

    def _update(self, start: float, *, default_p: float, tally: Tally, scope: str) -> Posterior:
        return Posterior(
            alpha=self.prior_weight * start + tally.freed,
            beta=self.prior_weight * (1.0 - start) + tally.tries - tally.freed,
            default_p=default_p,
            freed=tally.freed,
            tries=tally.tries,
            scope=scope,
        )


def tally_tries(tries: Iterable[Try], *, prior_weight: float = PRIOR_WEIGHT, fine_tries: int = FINE_TRIES) -> Odds:
    """Return the odds that these recorded tries add up to."""
    coarse: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    fine: dict[tuple[str, str, str, str], list[int]] = defaultdict(lambda: [0, 0])
    for one in tries:
        for counts in (coarse[one.ladder, one.rung], fine[one.ladder, one.rung, one.kind, one.role]):
            counts[0] += one.count * one.is_freed
            counts[1] += one.count
    return Odds(
        by_rung={key: Tally(freed=freed, tries=count) for key, (freed, count) in coarse.items()},
        by_kind_and_role={key: Tally(freed=freed, tries=count) for key, (freed, count) in fine.items()},
        prior_weight=prior_weight,
        fine_tries=fine_tries,
    )


def exact_interval(*, freed: int, tries: int, level: float = 0.95) -> Interval:
    """Return the two-sided Clopper-Pearson limits of a share; 0 and 1 where nothing was tried."""
    if not 0 <= freed <= tries:
        raise ValueError(f"{freed} of {tries} is no share")
    tail = (1.0 - level) / 2.0
    low = 0.0 if freed == 0 else float(special.betaincinv(freed, tries - freed + 1, tail))
    high = 1.0 if freed == tries else float(special.betaincinv(freed + 1, tries - freed, 1.0 - tail))
    return Interval(low=low, high=high)
