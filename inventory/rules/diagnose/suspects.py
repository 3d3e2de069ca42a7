"""Rank the parts that explain failed notes, and say which test tells them apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import MISSING_PART, Fault, Kind, Role
from inventory.rules.diagnose.hints import hints, newly_shut
from inventory.rules.diagnose.predictions import Prediction, predictions
from inventory.rules.facts import FindingFact
from inventory.rules.pitch import midi_of
from inventory.rules.playing import LEVELS, level_notes

MOST_PAIRED = 40  # single suspects tried in pairs, best first
MOST_PAIRS = 12
# How much a failed note left over, and a further cause, speak against an explanation.
UNEXPLAINED, ONE_MORE_CAUSE = 2, 3


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
    detail: str = field(default="", compare=False)  # "down", "position 5": what it would have to be like


@dataclass(frozen=True, slots=True)
class Suspect:
    """One explanation of the failed notes: a single fault, or a pair where no single one explains all."""

    part: str  # of the first cause
    place: str
    fault: str
    causes: tuple[Cause, ...]
    explains: tuple[str, ...]  # failed notes that it accounts for
    unexplained: tuple[str, ...]
    extra: tuple[str, ...]  # notes that were played, should have failed with it and did not
    rank: int  # 1 is best; equally good explanations share a rank
    ties: int  # how many others share the rank
    test: str  # what to do to find out whether it is this one


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Suspects in order, with what the pattern of failed notes says by itself."""

    failed: tuple[str, ...]  # as the chart spells them, the weak ones too
    level: str  # the first range that has all of them
    tried: tuple[str, ...]  # the notes taken as played
    suspects: tuple[Suspect, ...]
    hints: tuple[str, ...]


def diagnose(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    failed: Sequence[str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str | None = None,
    weak: Sequence[str] | None = None,
    tried: Sequence[str] = (),
    known: Sequence[Prediction] | None = None,
) -> Diagnosis:
    """Return suspects for the written notes that failed or were weak, in any spelling.

    With ``weak`` (an empty one too) the tester told weak notes from dead ones; without it a note that failed may be
    either. ``tried`` are the notes that were played, those that failed among them or not: only they speak against a suspect.
    Without it the level's other notes count as played and passed. Without ``level`` it is the first whose range holds
    all the notes named. Pairs are tried where no single fault spoils just these notes. Order: least wrong, where a
    failed note left unexplained counts two, a note that should have failed too and did not counts one, and each
    further cause three (shop defaults); then fewest causes; then the fewest notes that are weak and should be dead or
    the other way round. Within a rank the descending rule for woodwinds, then the trade's triage and likelihood, then
    the walk. ``known`` are the predictions of that level, if the caller has them already. UnknownNotesError for notes
    that are not on the chart.
    """
    level, names = _tested(kind=kind, chart=chart, wanted=[*failed, *(weak or ()), *tried], level=level)
    by_midi = {midi_of(name): name for name in names}
    heard = Heard(
        failed=frozenset(by_midi[midi_of(name)] for name in failed),
        weak=frozenset(by_midi[midi_of(name)] for name in weak or ()) - {by_midi[midi_of(name)] for name in failed},
        is_told_apart=weak is not None,
    )
    if tried:
        played = {midi_of(name) for name in (*failed, *(weak or ()), *tried)}
        names = tuple(name for name in names if midi_of(name) in played)
    singles = known
    if singles is None:
        singles = predictions(kind=kind, chart=chart, options=options, faults=faults, roles=roles, level=level)
    singles = _of_played(singles, played=frozenset(names))
    named = newly_shut(chart, names=names, failed=heard.bad)
    scored: list[Scored] = [(_score(heard, (one,), named=named), (one,)) for one in _fitting(singles, heard)]
    scored.sort(key=_standing)
    if scored and scored[0][0].missed + scored[0][0].extra:
        scored = sorted([*scored, *_pairs(scored, heard=heard, named=named)], key=_standing)
    return Diagnosis(
        failed=tuple(name for name in names if name in heard.bad),
        level=level,
        tried=names,
        suspects=_ranked(scored, names=names, asked=heard.bad, faults=faults, kind=kind),
        hints=tuple(hints(chart, names=names, failed=heard.bad)),
    )


@dataclass(frozen=True, slots=True)
class Heard:
    """What a tester heard go wrong, as the chart spells it."""

    failed: frozenset[str]
    weak: frozenset[str]
    is_told_apart: bool  # weak notes from dead ones

    @property
    def bad(self) -> frozenset[str]:
        return self.failed | self.weak


def _of_played(singles: Iterable[Prediction], *, played: frozenset[str]) -> list[Prediction]:
    """Keep of each prediction what a tester could have heard."""
    return [
        replace(one, notes=one.notes & played, dead=one.dead & played, weak=one.weak & played)
        if one.notes - played
        else one
        for one in singles
        if one.notes & played
    ]


def _tested(
    *, kind: Kind, chart: Chart | None, wanted: Sequence[str], level: str | None
) -> tuple[str, tuple[str, ...]]:
    """Return the first level that has all the notes wanted, and its notes."""
    numbers, unknown = _numbers(wanted)
    every: dict[int, str] = {}
    levels = [level] if level else [one for one in LEVELS if one in kind.levels] or ["first_year"]
    for one in levels:
        names = {midi_of(name): name for name in level_notes(kind=kind, chart=chart, level=one)}
        every |= names
        if not unknown and numbers.keys() <= names.keys():
            return one, tuple(names.values())
    known = tuple(every[midi] for midi in sorted(every))
    unknown += [name for midi, name in numbers.items() if midi not in every]
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
    degree: int  # notes that are weak and should be dead, or dead and should be weak
    is_unnamed: bool  # not at a hole that the descending rule names
    order: tuple[tuple[int, ...], ...]

    @property
    def rank_key(self) -> tuple[int, ...]:
        return self.wrong, self.causes, self.missed, self.degree


Scored = tuple[_Score, tuple[Prediction, ...]]


def _standing(scored: Scored) -> _Score:
    return scored[0]


def _score(heard: Heard, chosen: tuple[Prediction, ...], *, named: frozenset[str]) -> _Score:
    together = frozenset().union(*(one.notes for one in chosen))
    missed, extra = len(heard.bad - together), len(together - heard.bad)
    return _Score(
        wrong=UNEXPLAINED * missed + extra + ONE_MORE_CAUSE * (len(chosen) - 1),
        causes=len(chosen),
        missed=missed,
        extra=extra,
        degree=_degree(heard, chosen),
        is_unnamed=not any(one.finding.place in named or one.finding.part in named for one in chosen),
        order=tuple(one.order for one in chosen),
    )


def _degree(heard: Heard, chosen: Iterable[Prediction]) -> int:
    """Count the notes that are worse or better than predicted. A note out of tune may be called either."""
    if not heard.is_told_apart:
        return 0
    dead = frozenset().union(*(one.dead for one in chosen))
    weak = frozenset().union(*(one.weak for one in chosen)) - dead
    return len(heard.failed & weak) + len(heard.weak & dead)


def _fitting(singles: Iterable[Prediction], heard: Heard) -> list[Prediction]:
    """Keep the best severity and detail of each fault at each place, and only what touches a failed note."""
    best: dict[Cause, tuple[tuple[int, int], Prediction]] = {}
    for one in singles:
        if not heard.bad & one.notes:
            continue
        wrong = (UNEXPLAINED * len(heard.bad - one.notes) + len(one.notes - heard.bad), _degree(heard, (one,)))
        cause = _cause(one.finding)
        if cause not in best or wrong < best[cause][0]:
            best[cause] = (wrong, one)
    return [one for _, one in best.values()]


def _pairs(scored: Sequence[Scored], *, heard: Heard, named: frozenset[str]) -> list[Scored]:
    """Return the best pairs at different places that together explain more than either alone."""
    by_extra = sorted(scored, key=lambda entry: (entry[0].extra, entry[0].missed, entry[0].order))
    pool: dict[frozenset[str], list[Prediction]] = {}
    for _, (one,) in [*scored[:MOST_PAIRED], *by_extra[:MOST_PAIRED]]:
        pool.setdefault(one.notes, [])
        if one not in pool[one.notes]:
            pool[one.notes].append(one)
    found: list[Scored] = []
    for first, second in combinations(pool, 2):
        if heard.bad & first <= heard.bad & second or heard.bad & second <= heard.bad & first:
            continue
        chosen = (min(pool[first], key=_order), min(pool[second], key=_order))
        found.append((_score(heard, chosen, named=named), chosen))
    return sorted(found, key=_standing)[:MOST_PAIRS]


def _order(prediction: Prediction) -> tuple[int, ...]:
    return prediction.order


def _cause(finding: FindingFact) -> Cause:
    return Cause(part=finding.part, place=finding.place, fault=finding.fault, detail=finding.detail)


def _ranked(
    scored: Sequence[Scored],
    *,
    names: Sequence[str],
    asked: frozenset[str],
    faults: Mapping[str, Fault],
    kind: Kind,
) -> tuple[Suspect, ...]:
    ranks = {key: number for number, key in enumerate(sorted({score.rank_key for score, _ in scored}), start=1)}
    sharing: dict[tuple[int, ...], int] = {}
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
    test = known.test if known else "compare with the accessory list" if finding.fault == MISSING_PART else "look"
    said = (test or part.test).rstrip(".")
    return f"{where[:1].upper()}{where[1:]}: {said}{'' if said.endswith('?') else '.'}"
