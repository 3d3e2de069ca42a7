"""What the benches have learned, beside what they started from."""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache

from inventory.catalog.load import catalog
from inventory.catalog.schema import Ladder, Rung
from repairs.models import Attempt, Job
from repairs.rules.effort import Range
from repairs.rules.odds import Odds, Posterior
from repairs.rules.promises import Kept, promises_kept
from repairs.selectors.learning import RECENT, TIMED, record_of
from repairs.selectors.planning import Learned, learned
from repairs.selectors.promises import judged_jobs, past_promises

LEVEL = 0.95
OVER = 1.15  # times the estimate, from where a method is said to run over
OVER_RECORDS = 4  # times recorded before anything is said


@dataclass(frozen=True, slots=True)
class RungLine:
    rung: Rung
    sentence: str
    percent: int  # what the plan reckons with now
    low: int  # 95% limits, in percent
    high: int
    tries: int
    by_kind: tuple[str, ...]  # sentences where one kind and part speaks for itself


@dataclass(frozen=True, slots=True)
class LadderLines:
    ladder: Ladder
    rungs: tuple[RungLine, ...]

    @property
    def tries(self) -> int:
        return sum(line.tries for line in self.rungs)


@dataclass(frozen=True, slots=True)
class MethodLine:
    name: str
    records: int
    median: float  # minutes
    start: Range
    now: Range
    ratio: float  # mean of the recorded minutes over the likely ones

    @property
    def runs_over(self) -> bool:
        return self.records >= OVER_RECORDS and self.ratio >= OVER

    @property
    def percent_over(self) -> int:
        return round((self.ratio - 1.0) * 100)

    @property
    def percent_under(self) -> int:
        return -self.percent_over


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
        kept=promises_kept(past_promises(judged_jobs(Job.objects.all()))),
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
    return f"{belief.scope}: freed {belief.freed} of {belief.tries}, counted on for {belief.mean * 100:.0f}%"


@lru_cache(maxsize=2)
def method_lines(taught: Learned) -> tuple[MethodLine, ...]:
    """Return every method (and rung) timed here, the most often timed first. One query, none until more is learned."""
    times = taught.times
    minutes: dict[str, list[float]] = defaultdict(list)
    rows = Attempt.objects.filter(minutes__gt=0, outcome__in=TIMED).order_by("-ended_at")
    for row in rows.values_list("method", "rung", "minutes")[:RECENT]:
        if record := record_of(*row):
            minutes[record.method].append(record.minutes)
    lines = []
    for key, pace in times.by_method.items():
        name, start = _named(key)
        if start is not None and minutes[key]:
            lines.append(
                MethodLine(
                    name=name,
                    records=pace.records,
                    median=statistics.median(minutes[key]),
                    start=start,
                    now=times.learned(key, start),
                    ratio=math.exp(pace.log_mean),
                )
            )
    return tuple(sorted(lines, key=lambda line: (-line.records, line.name)))


def _named(key: str) -> tuple[str, Range | None]:
    """The name and the starting minutes of a method, or of ``ladder.rung``."""
    trade = catalog()
    ladder, _, rung = key.partition(".")
    if rung and ladder in trade.ladders:
        found = next((one for one in trade.ladders[ladder].rungs if one.code == rung), None)
        return (f"{found.name} ({trade.ladders[ladder].name})", Range(*found.minutes)) if found else (key, None)
    method = trade.methods.get(key)
    return (method.name, Range(*method.minutes)) if method else (key, None)
