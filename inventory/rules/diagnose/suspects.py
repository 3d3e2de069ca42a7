"""Rank the parts that explain failed notes, and say which test tells them apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from inventory.catalog.chart_schema import BrassChart, Chart, HoleChart
from inventory.catalog.schema import Fault, Kind, Role
from inventory.rules.diagnose.predictions import Prediction, predictions
from inventory.rules.facts import FindingFact
from inventory.rules.pitch import midi_of
from inventory.rules.playing import LEVELS, level_notes
from inventory.rules.playing.readings import MISSING

MOST_PAIRED = 40  # single suspects tried in pairs, best first
MOST_PAIRS = 12
UNEXPLAINED, ONE_MORE_CAUSE = (
    2,
    3,
)  # how much a failed note left over, and a further cause, speak against an explanation


class UnknownNotesError(ValueError):
    """Notes that the kind's chart does not have; ``known`` lists those it has."""

    def __init__(self, *, kind: str, notes: Sequence[str], known: Sequence[str]) -> None:
        self.known = tuple(known)
        listed = ", ".join(known) or "none, this kind has no chart of notes"
        super().__init__(f"{', '.join(map(repr, notes))} not on the chart of a {kind}. Known: {listed}")


@dataclass(frozen=True, slots=True)
class Cause:
    """One fault at one place."""

    part: str
    place: str
    fault: str


@dataclass(frozen=True, slots=True)
class Suspect:
    """One explanation of the failed notes: a single fault, or a pair where no single one explains all."""

    part: str  # of the first cause
    place: str
    fault: str
    causes: tuple[Cause, ...]
    explains: tuple[str, ...]  # failed notes that it accounts for
    unexplained: tuple[str, ...]
    extra: tuple[str, ...]  # notes that should have failed with it and did not
    rank: int  # 1 is best; equally good explanations share a rank
    ties: int  # how many others share the rank
    test: str  # what to do to find out whether it is this one


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Suspects in order, with what the pattern of failed notes says by itself."""

    failed: tuple[str, ...]  # as the chart spells them
    level: str  # the range that was taken as tested
    suspects: tuple[Suspect, ...]
    hints: tuple[str, ...]


def suspects(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    failed: Sequence[str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str | None = None,
) -> tuple[Suspect, ...]:
    """Return the explanations of failed notes, best first. See ``diagnose``."""
    return diagnose(
        kind=kind, chart=chart, options=options, failed=failed, faults=faults, roles=roles, level=level
    ).suspects


def diagnose(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    failed: Sequence[str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str | None = None,
    known: Sequence[Prediction] | None = None,
) -> Diagnosis:
    """Return suspects for the written notes that failed, in any spelling; the level's other notes count as passed.

    Without ``level`` it is the first whose range holds all failed notes. Pairs are tried where no single fault spoils
    just these notes. Order: least wrong, where a failed note left unexplained counts two, a note that should have
    failed too and did not counts one, and each further cause three (shop defaults); then fewest causes. Within a rank
    the descending rule for woodwinds, then the trade's likelihood, then the walk. ``known`` are the
    predictions of that level, if the caller has them already. UnknownNotesError for notes that are not on the chart.
    """
    level, names = _tested(kind=kind, chart=chart, failed=failed, level=level)
    by_midi = {midi_of(name): name for name in names}
    asked = {by_midi[midi_of(name)] for name in failed}
    singles = known
    if singles is None:
        singles = predictions(kind=kind, chart=chart, options=options, faults=faults, roles=roles, level=level)
    named = _newly_shut(chart, names=names, failed=asked)
    scored: list[Scored] = [(_score(asked, (one,), named=named), (one,)) for one in _fitting(singles, asked)]
    scored.sort(key=_standing)
    if scored and scored[0][0].missed + scored[0][0].extra:
        scored = sorted([*scored, *_pairs(scored, asked=asked, named=named)], key=_standing)
    return Diagnosis(
        failed=tuple(name for name in names if name in asked),
        level=level,
        suspects=_ranked(scored, names=names, asked=asked, faults=faults, kind=kind),
        hints=tuple(_hints(chart, names=names, failed=asked)),
    )


def _tested(
    *, kind: Kind, chart: Chart | None, failed: Sequence[str], level: str | None
) -> tuple[str, tuple[str, ...]]:
    """Return the level taken as tested and its notes."""
    wanted, unknown = _numbers(failed)
    every: dict[int, str] = {}
    levels = [level] if level else [one for one in LEVELS if one in kind.levels] or ["first_year"]
    for one in levels:
        names = {midi_of(name): name for name in level_notes(kind=kind, chart=chart, level=one)}
        every |= names
        if not unknown and wanted.keys() <= names.keys():
            return one, tuple(names.values())
    known = tuple(every[midi] for midi in sorted(every))
    unknown += [name for midi, name in wanted.items() if midi not in every]
    if unknown:
        raise UnknownNotesError(kind=kind.code, notes=unknown, known=known)
    return levels[-1], known


def _numbers(names: Sequence[str]) -> tuple[dict[int, str], list[str]]:
    """Return the MIDI numbers of the names that are notes, and the names that are none."""
    wanted: dict[int, str] = {}
    unknown: list[str] = []
    for name in names:
        try:
            wanted[midi_of(name)] = name
        except ValueError:
            unknown.append(name)
    return wanted, unknown


@dataclass(frozen=True, slots=True, order=True)
class _Score:
    wrong: int
    causes: int
    missed: int
    extra: int
    is_unnamed: bool  # not at a hole that the descending rule names
    order: tuple[tuple[int, int, int], ...]

    @property
    def rank_key(self) -> tuple[int, int, int]:
        return self.wrong, self.causes, self.missed


Scored = tuple[_Score, tuple[Prediction, ...]]


def _standing(scored: Scored) -> _Score:
    return scored[0]


def _score(asked: set[str], chosen: tuple[Prediction, ...], *, named: frozenset[str]) -> _Score:
    together = frozenset().union(*(one.notes for one in chosen))
    missed, extra = len(asked - together), len(together - asked)
    return _Score(
        wrong=UNEXPLAINED * missed + extra + ONE_MORE_CAUSE * (len(chosen) - 1),
        causes=len(chosen),
        missed=missed,
        extra=extra,
        is_unnamed=not any(one.finding.place in named or one.finding.part in named for one in chosen),
        order=tuple(one.order for one in chosen),
    )


def _fitting(singles: Iterable[Prediction], asked: set[str]) -> list[Prediction]:
    """Keep the best severity of each fault at each place, and only what touches a failed note."""
    best: dict[Cause, Prediction] = {}
    for one in singles:
        if not asked & one.notes:
            continue
        cause = _cause(one.finding)
        if cause not in best or _wrong(one, asked) < _wrong(best[cause], asked):
            best[cause] = one
    return list(best.values())


def _wrong(one: Prediction, asked: set[str]) -> int:
    return UNEXPLAINED * len(asked - one.notes) + len(one.notes - asked)


def _pairs(scored: Sequence[Scored], *, asked: set[str], named: frozenset[str]) -> list[Scored]:
    """Return the best pairs at different places that together explain more than either alone."""
    by_extra = sorted(scored, key=lambda entry: (entry[0].extra, entry[0].missed, entry[0].order))
    pool: dict[frozenset[str], list[Prediction]] = {}
    for _, (one,) in [*scored[:MOST_PAIRED], *by_extra[:MOST_PAIRED]]:
        pool.setdefault(one.notes, [])
        if one not in pool[one.notes]:
            pool[one.notes].append(one)
    found: list[Scored] = []
    for first, second in combinations(pool, 2):
        if asked & first <= asked & second or asked & second <= asked & first:
            continue
        chosen = (min(pool[first], key=_order), min(pool[second], key=_order))
        found.append((_score(asked, chosen, named=named), chosen))
    return sorted(found, key=_standing)[:MOST_PAIRS]


def _order(prediction: Prediction) -> tuple[int, int, int]:
    return prediction.order


def _cause(finding: FindingFact) -> Cause:
    return Cause(part=finding.part, place=finding.place, fault=finding.fault)


def _ranked(
    scored: Sequence[Scored],
    *,
    names: Sequence[str],
    asked: set[str],
    faults: Mapping[str, Fault],
    kind: Kind,
) -> tuple[Suspect, ...]:
    ranks = {key: number for number, key in enumerate(sorted({score.rank_key for score, _ in scored}), start=1)}
    sharing: dict[tuple[int, int, int], int] = {}
    for score, _ in scored:
        sharing[score.rank_key] = sharing.get(score.rank_key, 0) + 1
    result = []
    for score, chosen in scored:
        together = frozenset().union(*(one.notes for one in chosen))
        causes = tuple(_cause(one.finding) for one in chosen)
        result.append(
            Suspect(
                part=causes[0].part,
                place=causes[0].place,
                fault=causes[0].fault,
                causes=causes,
                explains=tuple(name for name in names if name in together and name in asked),
                unexplained=tuple(name for name in names if name in asked and name not in together),
                extra=tuple(name for name in names if name in together and name not in asked),
                rank=ranks[score.rank_key],
                ties=sharing[score.rank_key] - 1,
                test=" ".join(_test(one, faults=faults, kind=kind) for one in chosen),
            )
        )
    return tuple(result)


def _test(prediction: Prediction, *, faults: Mapping[str, Fault], kind: Kind) -> str:
    """Return the test of a fault, at its place, as a sentence."""
    finding = prediction.finding
    part = kind.part(finding.part)
    where = part.at(finding.place)
    known = faults.get(finding.fault)
    test = known.test if known else "compare with the accessory list" if finding.fault == MISSING else "look"
    return f"{where[:1].upper()}{where[1:]}: {(test or part.test).rstrip('.')}."


def _first_going_down(chart: HoleChart, failed: set[str]) -> str:
    """Return the highest failed note of the lowest register that has one: upper registers repeat its holes."""
    return min(failed, key=lambda name: (chart.fingerings[name][0].register, -midi_of(name)))


def _newly_shut(chart: Chart | None, *, names: Sequence[str], failed: set[str]) -> frozenset[str]:
    """Return the holes that the descending rule names: shut for the first note to fail, not for the one above it."""
    if not isinstance(chart, HoleChart) or not failed:
        return frozenset()
    first = _first_going_down(chart, failed)
    above = [name for name in names if midi_of(name) > midi_of(first)]
    now = chart.fingerings[first][0].must_seal
    return now - chart.fingerings[above[0]][0].must_seal if above else frozenset()


def _hints(chart: Chart | None, *, names: Sequence[str], failed: set[str]) -> Iterable[str]:
    """Say what the pattern of failed notes alone tells, by the trade's rules."""
    if not failed:
        return
    ordered = [name for name in names if name in failed]
    if len(ordered) == len(names):
        yield "Everything fails: look first where all the air passes, and at mouthpiece, reed and player."
    if isinstance(chart, HoleChart):
        holes = {hole.id: hole.name or hole.id for hole in chart.holes}
        fresh = _newly_shut(chart, names=names, failed=failed)
        if fresh:
            listed = ", ".join(holes[hole] for hole in holes if hole in fresh)
            yield f"Going down, {_first_going_down(chart, failed)} fails first; newly shut there: {listed}."
        below = [name for name in names if midi_of(name) < midi_of(ordered[-1])]
        if len(ordered) == 1 and below:
            yield f"Only {ordered[0]} fails and lower notes speak: a sticky or bent key more likely than a leak."
        upper = {name for name in names if chart.fingerings[name][0].register > 1}
        if set(ordered) == upper:
            yield "All of the upper register and nothing below: the vent, the reed or the player."
    elif isinstance(chart, BrassChart):
        yield from _valve_hint(chart, ordered=ordered)


def _valve_hint(chart: BrassChart, *, ordered: Sequence[str]) -> Iterable[str]:
    shared = set.intersection(*({digit for digit in chart.usual[name] if digit in "1234"} for name in ordered))
    if len(ordered) > 1 and shared:
        yield f"Every failed note is usually played with valve {' and '.join(sorted(shared))}."
    if len(ordered) > 1 and not any(digit in "1234" for name in ordered for digit in chart.usual[name]):
        yield "Only open notes fail: a valve that stays down, the leadpipe, the mouthpiece or the player."
