"""What the benches have learned, beside what they started from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.catalog.schema import Ladder, Rung
from repairs.rules.odds import Odds, Posterior
from repairs.rules.promises import Kept
from repairs.selectors.planning import Learned, learned
from repairs.selectors.promises import MethodLine, kept_everywhere, method_lines

LEVEL = 0.95
HOW = _(
    "Each job is planned again with the faults known when it was opened, at its bench as it is now, and with only what "
    "earlier tries had taught. Its actual time is the sum of its recorded minutes. Faults found later count only toward the "
    "actual time. The play test is not timed and is left out of both. Jobs given up, and jobs with a step nobody timed, "
    "are left out."
)


@dataclass(frozen=True, slots=True)
class RungLine:
    rung: Rung
    sentence: str
    percent: int  # what plans use now
    low: int  # 95% limits, in percent
    high: int
    tries: int
    by_kind: tuple[str, ...]  # sentences where one kind and part has enough tries of its own


@dataclass(frozen=True, slots=True)
class LadderLines:
    ladder: Ladder
    rungs: tuple[RungLine, ...]

    @property
    def tries(self) -> int:
        return sum(line.tries for line in self.rungs)


@dataclass(frozen=True, slots=True)
class Learning:
    tried: tuple[LadderLines, ...]  # ladders with tries, the most tried first
    untried: tuple[LadderLines, ...]
    methods: tuple[MethodLine, ...]
    kept: Kept
    prior_weight: float
    fine_tries: int
    prior_records: float

    @property
    def tries(self) -> int:
        return sum(lines.tries for lines in self.tried)

    @property
    def records(self) -> int:
        return sum(line.records for line in self.methods)


def learning_page() -> Learning:
    """Return all that is learned, district-wide. Two queries while nothing has been tried since."""
    taught = learned()
    odds, times, ladders = taught.odds, taught.times, _ladders(taught)
    return Learning(
        tried=tuple(sorted((one for one in ladders if one.tries), key=lambda one: -one.tries)),
        untried=tuple(one for one in ladders if not one.tries),
        methods=method_lines(taught),
        kept=kept_everywhere(),
        prior_weight=odds.prior_weight,
        fine_tries=odds.fine_tries,
        prior_records=times.prior_records,
    )


@lru_cache(maxsize=2)
def _ladders(taught: Learned) -> tuple[LadderLines, ...]:
    """Every ladder with its odds, remembered until more has been learned: their limits take a while to work out."""
    return tuple(_ladder(ladder, odds=taught.odds) for ladder in catalog().ladders.values())


def _ladder(ladder: Ladder, *, odds: Odds) -> LadderLines:
    return LadderLines(ladder=ladder, rungs=tuple(_rung(ladder, rung, odds=odds) for rung in ladder.rungs))


def _rung(ladder: Ladder, rung: Rung, *, odds: Odds) -> RungLine:
    belief = odds.posterior(ladder=ladder.code, rung=rung.code, default_p=rung.p)
    limits = belief.interval(level=LEVEL)
    own = [
        odds.posterior(ladder=ladder.code, rung=rung.code, default_p=rung.p, kind=kind, role=role)
        for (of, code, kind, role), tally in sorted(odds.by_kind_and_role.items())
        if (of, code) == (ladder.code, rung.code) and tally.tries >= odds.fine_tries
    ]
    return RungLine(
        rung=rung,
        sentence=belief.sentence,
        percent=round(belief.mean * 100),
        low=round(limits.low * 100),
        high=round(limits.high * 100),
        tries=belief.tries,
        by_kind=tuple(_own_words(one) for one in own),
    )


def _own_words(belief: Posterior) -> str:
    words = gettext("%(scope)s: freed %(freed)d of %(tries)d, plans use %(percent).0f%%")
    return words % {
        "scope": belief.scope,
        "freed": belief.freed,
        "tries": belief.tries,
        "percent": belief.mean * 100,
    }
