"""Rank the parts that explain failed notes, and name the test that confirms each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from core.translation import gettext as _
from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import MISSING_PART, Fault, Kind, Severity
from inventory.rules.diagnose.hints import hints, newly_shut
from inventory.rules.diagnose.predictions import Prediction, Survey
from inventory.rules.facts import FindingFact
from inventory.rules.pitch import midi_of
from inventory.rules.playing import LEVELS, level_notes

# Limits of what is tried in pairs, best first: all pairs of hundreds of faults would take seconds, and nobody reads on.
MOST_PAIRED = 40
MOST_PAIRS = 12
# How much a failed note left over, and a further cause, count against an explanation, where a note that should have
# failed with it and did not counts one. Shop defaults.
UNEXPLAINED, ONE_MORE_CAUSE = 2, 3


class UnknownNotesError(ValueError):
    """Notes that the kind's chart does not have; ``known`` lists those it has."""

    def __init__(self, *, kind: str, notes: Sequence[str], known: Sequence[str]) -> None:
        self.known = tuple(known)
        listed = ", ".join(known) or _("none, this kind has no chart of notes")
        words = _("%(notes)s not on the chart of a %(kind)s. Known: %(known)s")
        super().__init__(words % {"notes": ", ".join(map(repr, notes)), "kind": kind, "known": listed})


@dataclass(frozen=True, slots=True)
class PlayedNotes:
    """What a tester heard: written notes in any spelling."""

    failed: tuple[str, ...] = ()
    weak: tuple[str, ...] = ()
    tried: tuple[str, ...] = ()  # played, bad or not; empty: every note of the level counts as played
    tells_weak: bool = False  # weak notes were told from dead ones; else a note that failed may be either

    @property
    def every(self) -> tuple[str, ...]:
        return (*self.failed, *self.weak, *self.tried)


@dataclass(frozen=True, slots=True)
class Cause:
    """One fault at one place."""

    part: str
    place: str
    fault: str
    detail: str = field(default="", compare=False)  # "down", "position 5": what it would have to be like
    severity: Severity = field(default=Severity.SEVERE, compare=False)  # how bad it would have to be

    @classmethod
    def of(cls, finding: FindingFact) -> Cause:
        return cls(finding.part, finding.place, finding.fault, detail=finding.detail, severity=finding.severity)

    @property
    def finding(self) -> FindingFact:
        return FindingFact(self.part, self.fault, self.severity, place=self.place, detail=self.detail)


@dataclass(frozen=True, slots=True)
class Suspect:
    """One explanation of the failed notes: a single fault, or a pair where no single one explains all."""

    causes: tuple[Cause, ...]
    explains: tuple[str, ...]  # failed notes that it accounts for
    unexplained: tuple[str, ...]
    extra: tuple[str, ...]  # notes that were played, should have failed with it and did not
    rank: int  # 1 is best; equally good explanations share a rank
    ties: int  # how many others share the rank
    test: str  # what to do to find out whether it is this one

    @property
    def part(self) -> str:
        return self.causes[0].part

    @property
    def place(self) -> str:
        return self.causes[0].place

    @property
    def fault(self) -> str:
        return self.causes[0].fault


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """Suspects in order, with what the pattern of failed notes says by itself."""

    failed: tuple[str, ...]  # as the chart spells them, the weak ones too
    level: str  # the first range that has all of them
    tried: tuple[str, ...]  # the notes taken as played
    suspects: tuple[Suspect, ...]
    hints: tuple[str, ...]


def diagnose(
    tested: PlayedNotes,
    *,
    kind: Kind,
    chart: Chart | None,
    faults: Mapping[str, Fault],
    surveyed: Callable[[str], Survey],
    level: str = "",
    options: Mapping[str, str] | None = None,
) -> Diagnosis:
    """Return what may explain the notes that failed or were weak.

    ``surveyed`` returns what each fault does to the notes of a level. Without ``level`` it is the first whose range
    holds all notes named. Pairs are tried where no single fault spoils just these notes. Order: the lowest penalty
    (see ``Explanation``), then fewest causes, then fewest failed notes left over, then the fewest notes that are weak
    and should be dead or the other way round. Within a rank: the descending rule for woodwinds, then the trade's triage
    and likelihood, then the walk. UnknownNotesError for notes that are not on the chart.
    """
    level, names = _level_tested(tested, kind=kind, chart=chart, level=level)
    evidence = _evidence(tested, names=names)
    named = newly_shut(chart, names=evidence.played, failed=evidence.bad)
    singles = _best_of_each(_as_played(surveyed(level).predictions, played=frozenset(evidence.played)), evidence)
    found = sorted((evidence.explained_by((one,), named=named) for one in singles), key=_order)
    if found and found[0].unexplained + found[0].extra:
        found = sorted([*found, *_pairs(found, evidence=evidence, named=named)], key=_order)
    first = [cause.finding for one in found if one.rank_key == found[0].rank_key for cause in one.causes]
    found_hints = hints(
        chart, kind=kind, options=options or {}, faults=faults, names=evidence.played, failed=evidence.bad, first=first
    )
    return Diagnosis(
        failed=tuple(name for name in evidence.played if name in evidence.bad),
        level=level,
        tried=evidence.played,
        suspects=_ranked(found, evidence=evidence, faults=faults, kind=kind),
        hints=tuple(found_hints),
    )


@dataclass(frozen=True, slots=True)
class Explanation:
    """Faults that together may explain what was heard, and how badly they fit."""

    causes: tuple[Prediction, ...]
    unexplained: int  # bad notes that they do not spoil
    extra: int  # notes they spoil that were played and good
    misjudged: int  # notes that are weak and should be dead, or dead and should be weak
    is_named: bool  # at a hole that the descending rule names

    @property
    def penalty(self) -> int:
        return UNEXPLAINED * self.unexplained + self.extra + ONE_MORE_CAUSE * (len(self.causes) - 1)

    @property
    def rank_key(self) -> tuple[int, ...]:
        return self.penalty, len(self.causes), self.unexplained, self.misjudged


def _order(one: Explanation) -> tuple[object, ...]:
    return one.rank_key, not one.is_named, tuple(cause.order for cause in one.causes)


@dataclass(frozen=True, slots=True)
class Evidence:
    """What a tester heard, as the chart spells it."""

    failed: frozenset[str]
    weak: frozenset[str]
    played: tuple[str, ...]  # ascending
    tells_weak: bool

    @property
    def bad(self) -> frozenset[str]:
        return self.failed | self.weak

    def explained_by(self, causes: tuple[Prediction, ...], *, named: frozenset[str] = frozenset()) -> Explanation:
        """Return how well some causes explain it; ``named`` are the holes that the descending rule names."""
        spoiled = _union(cause.notes for cause in causes)
        dead = _union(cause.dead for cause in causes)
        weak = _union(cause.weak for cause in causes) - dead  # a note out of tune may be called either
        return Explanation(
            causes=causes,
            unexplained=len(self.bad - spoiled),
            extra=len(spoiled - self.bad),
            misjudged=len(self.failed & weak) + len(self.weak & dead) if self.tells_weak else 0,
            is_named=any(cause.finding.place in named or cause.finding.part in named for cause in causes),
        )


def _union(sets: Iterable[frozenset[str]]) -> frozenset[str]:
    return frozenset().union(*sets)


def _evidence(tested: PlayedNotes, *, names: Sequence[str]) -> Evidence:
    by_midi = {midi_of(name): name for name in names}
    failed = frozenset(by_midi[midi_of(name)] for name in tested.failed)
    weak = frozenset(by_midi[midi_of(name)] for name in tested.weak)
    played = {midi_of(name) for name in tested.every} if tested.tried else by_midi.keys()
    return Evidence(
        failed=failed,
        weak=weak - failed,
        played=tuple(name for midi, name in by_midi.items() if midi in played),
        tells_weak=tested.tells_weak,
    )


def _level_tested(tested: PlayedNotes, *, kind: Kind, chart: Chart | None, level: str) -> tuple[str, tuple[str, ...]]:
    """Return the first level that has all the notes named, and its notes; failing that the last, and those of all."""
    unknown = [name for name in tested.every if not _is_note(name)]
    wanted = {midi_of(name): name for name in tested.every if name not in unknown}
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


def _is_note(name: str) -> bool:
    try:
        midi_of(name)
    except ValueError:
        return False
    return True


def _as_played(predicted: Iterable[Prediction], *, played: frozenset[str]) -> Iterable[Prediction]:
    """Keep of each prediction what a tester could have heard."""
    for one in predicted:
        if one.notes <= played:
            yield one
        elif one.notes & played:
            yield replace(one, notes=one.notes & played, dead=one.dead & played, weak=one.weak & played)


def _best_of_each(predicted: Iterable[Prediction], evidence: Evidence) -> list[Prediction]:
    """Keep the severity and detail of each fault at each place that fits best, and only what touches a bad note."""
    best: dict[Cause, tuple[tuple[int, int], Prediction]] = {}
    for one in predicted:
        if not evidence.bad & one.notes:
            continue
        fit = evidence.explained_by((one,))
        key, cause = (fit.penalty, fit.misjudged), Cause.of(one.finding)
        if cause not in best or key < best[cause][0]:
            best[cause] = (key, one)
    return [one for _, one in best.values()]


def _pairs(singles: Sequence[Explanation], *, evidence: Evidence, named: frozenset[str]) -> list[Explanation]:
    """Return the best pairs of causes that together explain more than either alone; ``singles`` come best first."""
    least_extra = sorted(singles, key=lambda one: (one.extra, one.unexplained, one.causes[0].order))
    pool: dict[frozenset[str], Prediction] = {}  # notes -> the likeliest fault that spoils just these
    for single in [*singles[:MOST_PAIRED], *least_extra[:MOST_PAIRED]]:
        (cause,) = single.causes
        pool[cause.notes] = min(pool.get(cause.notes, cause), cause, key=lambda one: one.order)
    pairs = [
        evidence.explained_by((pool[first], pool[second]), named=named)
        for first, second in combinations(pool, 2)
        if (evidence.bad & first) - second and (evidence.bad & second) - first
    ]
    return sorted(pairs, key=_order)[:MOST_PAIRS]


def _ranked(
    found: Sequence[Explanation], *, evidence: Evidence, faults: Mapping[str, Fault], kind: Kind
) -> tuple[Suspect, ...]:
    sharing = Counter(one.rank_key for one in found)
    ranks = {key: rank for rank, key in enumerate(sorted(sharing), start=1)}
    suspects = []
    for one in found:
        spoiled = _union(cause.notes for cause in one.causes)
        suspects.append(
            Suspect(
                causes=tuple(Cause.of(cause.finding) for cause in one.causes),
                explains=tuple(name for name in evidence.played if name in spoiled & evidence.bad),
                unexplained=tuple(name for name in evidence.played if name in evidence.bad - spoiled),
                extra=tuple(name for name in evidence.played if name in spoiled - evidence.bad),
                rank=ranks[one.rank_key],
                ties=sharing[one.rank_key] - 1,
                test=" ".join(_test(cause.finding, faults=faults, kind=kind) for cause in one.causes),
            )
        )
    return tuple(suspects)


def _test(finding: FindingFact, *, faults: Mapping[str, Fault], kind: Kind) -> str:
    """Return the test of a fault, at its place, as a sentence."""
    part, known = kind.part(finding.part), faults.get(finding.fault)
    test = known.test if known else _("compare with the accessory list") if finding.fault == MISSING_PART else _("look")
    text = (test or part.test).rstrip(".")
    return f"{kind.where(finding.part, finding.place)}: {text}{'' if text.endswith('?') else '.'}"
