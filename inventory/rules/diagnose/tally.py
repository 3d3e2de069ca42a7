"""How often the right fault comes first: the honest measure of a diagnosis."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import Fault, Kind, Role
from inventory.rules.diagnose.predictions import predictions
from inventory.rules.diagnose.suspects import Cause, suspects


@dataclass(frozen=True, slots=True)
class RankTally:
    """Over every single fault of a kind that spoils a note of the level."""

    total: int
    listed: int  # among the suspects
    shares_first: int  # on rank 1, alone or with others that the notes cannot tell from it
    first: int  # at the very top of the list
    first_alone: int  # on rank 1 with nothing beside it

    def __add__(self, other: RankTally) -> RankTally:
        return RankTally(
            total=self.total + other.total,
            listed=self.listed + other.listed,
            shares_first=self.shares_first + other.shares_first,
            first=self.first + other.first,
            first_alone=self.first_alone + other.first_alone,
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
    tally = RankTally(0, 0, 0, 0, 0)
    known = predictions(kind=kind, chart=chart, options=options, faults=faults, roles=roles, level=level)
    answers = {
        notes: suspects(
            kind=kind, chart=chart, options=options, failed=tuple(notes), faults=faults, roles=roles, level=level
        )
        for notes in {prediction.notes for prediction in known}
    }
    for prediction in known:
        finding = prediction.finding
        cause = (Cause(part=finding.part, place=finding.place, fault=finding.fault),)
        ranked = answers[prediction.notes]
        place = next((number for number, suspect in enumerate(ranked) if suspect.causes == cause), None)
        is_first_rank = place is not None and ranked[place].rank == 1
        tally += RankTally(
            total=1,
            listed=place is not None,
            shares_first=is_first_rank,
            first=place == 0,
            first_alone=is_first_rank and ranked[0].ties == 0,
        )
    return tally
