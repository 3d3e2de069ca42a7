"""How often the right fault comes first: the honest measure of a diagnosis, beside the most that any order could reach."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import MISSING_PART, Fault, Kind, Role
from inventory.rules.diagnose.predictions import Prediction, Survey, survey
from inventory.rules.diagnose.suspects import Cause, PlayedNotes, Suspect, diagnose
from inventory.rules.playing.readings import valve_of

Signature = tuple[frozenset[str], frozenset[str]]  # what a tester hears: notes that failed, notes that are weak


@dataclass(frozen=True, slots=True)
class RankTally:
    """Over every single fault of a kind that spoils a note of the level.

    ``likely`` weighs each fault by its place in its role's list (1, 1/2, 1/3, …) and leaves missing parts out, which
    eyes find before ears: nearer to what a bench meets than counting all alike. The weights are a convention.
    """

    total: int = 0
    listed: int = 0  # among the suspects
    shares_first: int = 0  # on rank 1, alone or with others that the notes cannot tell from it
    first_spot: int = 0  # the top of the list names its place (valve, pad, bar), or its part where it has none
    first: int = 0  # the top of the list names its place and its very fault
    most_first_spot: int = 0  # what the best possible order could reach: many faults spoil the very same notes
    likely: float = 0.0
    likely_first_spot: float = 0.0
    silent: int = 0  # faults at a place that are heard by their effect and spoil no note of the level: not among total

    def __add__(self, other: RankTally) -> RankTally:
        return RankTally(**{one.name: getattr(self, one.name) + getattr(other, one.name) for one in fields(self)})


def rank_tally(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str = "first_year",
    tells_weak: bool = False,
    surveyed: Survey | None = None,
) -> RankTally:
    """Play the part of every fault in turn: hand the notes it spoils to the diagnosis and see where it comes out.

    ``tells_weak``: the tester says which notes are dead and which only weak. ``surveyed`` is the survey of just this
    kind, level and options, where there is one already.
    """
    surveyed = surveyed or survey(kind, level, chart=chart, options=options, faults=faults, roles=roles)
    known = surveyed.predictions
    heard = {number: _signature(one, tells_weak=tells_weak) for number, one in enumerate(known)}
    answers = {
        signature: diagnose(
            PlayedNotes(failed=tuple(signature[0]), weak=tuple(signature[1]), tells_weak=tells_weak),
            kind=kind,
            chart=chart,
            faults=faults,
            surveyed=lambda _: surveyed,
            level=level,
            options=options,
        ).suspects
        for signature in set(heard.values())
    }
    spots: dict[Signature, Counter[str]] = {}
    for number, one in enumerate(known):
        spots.setdefault(heard[number], Counter())[_spot(kind, part=one.finding.part, place=one.finding.place)] += 1
    most = sum(counted.most_common(1)[0][1] for counted in spots.values())
    return sum(
        (_standing(one, answers[heard[number]], kind=kind) for number, one in enumerate(known)),
        RankTally(most_first_spot=most, silent=len(surveyed.silent)),
    )


def _signature(prediction: Prediction, *, tells_weak: bool) -> Signature:
    weak = prediction.weak if tells_weak else frozenset()
    return prediction.notes - weak, weak


def _standing(prediction: Prediction, ranked: Sequence[Suspect], *, kind: Kind) -> RankTally:
    finding = prediction.finding
    cause = (Cause(part=finding.part, place=finding.place, fault=finding.fault),)
    mine = next((suspect for suspect in ranked if suspect.causes == cause), None)
    likely = 0.0 if finding.fault == MISSING_PART else 1 / (1 + prediction.likelihood)
    if mine is None:
        return RankTally(total=1, likely=likely)
    top = ranked[0]
    is_spot = _spot(kind, part=top.part, place=top.place) == _spot(kind, part=finding.part, place=finding.place)
    return RankTally(
        total=1,
        listed=1,
        shares_first=mine.rank == 1,
        first_spot=is_spot,
        first=top is mine,
        likely=likely,
        likely_first_spot=likely * is_spot,
    )


def _spot(kind: Kind, *, part: str, place: str) -> str:
    """Return the valve or the place that a cause is at, else its part."""
    return valve_of(kind.part(part), place=place) or place or part
