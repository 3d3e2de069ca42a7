"""How often the right fault comes first: the honest measure of a diagnosis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import Fault, Kind, Role
from inventory.rules.diagnose.predictions import predictions
from inventory.rules.diagnose.suspects import Cause, Suspect, diagnose
from inventory.rules.facts import FindingFact
from inventory.rules.playing.readings import valve_of


@dataclass(frozen=True, slots=True)
class RankTally:
    """Over every single fault of a kind that spoils a note of the level."""

    total: int = 0
    listed: int = 0  # among the suspects
    shares_first: int = 0  # on rank 1, alone or with others that the notes cannot tell from it
    first_spot: int = 0  # the top of the list names its place (valve, pad, bar), or its part where it has none
    first: int = 0  # the top of the list names its place and its very fault

    def __add__(self, other: RankTally) -> RankTally:
        return RankTally(
            total=self.total + other.total,
            listed=self.listed + other.listed,
            shares_first=self.shares_first + other.shares_first,
            first_spot=self.first_spot + other.first_spot,
            first=self.first + other.first,
        )


def rank_tally(
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    level: str = "first_year",
) -> RankTally:
    """Play the part of every fault in turn: hand the notes it spoils to the diagnosis and see where it comes out."""
    known = predictions(kind=kind, chart=chart, options=options, faults=faults, roles=roles, level=level)
    answers = {
        notes: diagnose(
            kind=kind,
            chart=chart,
            options=options,
            failed=tuple(notes),
            faults=faults,
            roles=roles,
            level=level,
            known=known,
        ).suspects
        for notes in {prediction.notes for prediction in known}
    }
    return sum((_standing(one.finding, answers[one.notes], kind=kind) for one in known), RankTally())


def _standing(finding: FindingFact, ranked: Sequence[Suspect], *, kind: Kind) -> RankTally:
    cause = (Cause(part=finding.part, place=finding.place, fault=finding.fault),)
    mine = next((suspect for suspect in ranked if suspect.causes == cause), None)
    if mine is None:
        return RankTally(total=1)
    top = ranked[0]
    return RankTally(
        total=1,
        listed=1,
        shares_first=mine.rank == 1,
        first_spot=_spot(kind, part=top.part, place=top.place) == _spot(kind, part=finding.part, place=finding.place),
        first=top is mine,
    )


def _spot(kind: Kind, *, part: str, place: str) -> str:
    """Return the valve or the place that a cause is at, else its part."""
    return valve_of(kind.part(part), place=place) or place or part
