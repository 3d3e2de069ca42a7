"""Every fault of every kind leads back to itself."""

from __future__ import annotations

import pytest

from tests.inventory.rules.cases import CATALOG, KINDS, WITH_NOTES, make_chart
from tests.simulation.fault_tally import RankTally, rank_tally

FROM_BEST = 0.85  # of what the best possible order could reach


@pytest.mark.parametrize("code", WITH_NOTES)
def test_every_single_fault_is_among_its_own_suspects_and_on_the_first_rank(code):
    tally = rank_tally(
        kind=KINDS[code],
        chart=make_chart(code),
        options={},
        faults=CATALOG.faults,
        roles=CATALOG.roles,
    )
    assert tally.total > 0
    assert tally.listed == tally.shares_first == tally.total
    assert 0 < tally.first <= tally.first_spot <= tally.most_first_spot <= tally.total
    assert tally.first_spot >= FROM_BEST * tally.most_first_spot


def test_to_tell_weak_notes_from_dead_ones_parts_more_faults():
    plain, told = (
        rank_tally(
            kind=KINDS["flute"], chart=make_chart("flute"), options={}, faults=CATALOG.faults, roles=CATALOG.roles,
            tells_weak=tells_weak,
        )
        for tells_weak in (False, True)
    )  # fmt: skip
    assert told.total == plain.total
    assert told.listed == told.total
    assert told.first > plain.first
    assert told.first_spot >= plain.first_spot


def test_tallies_add_up():
    one = RankTally(total=3, listed=3, shares_first=2, first_spot=2, first=1, most_first_spot=3, likely=1.5)
    both = one + one
    assert (both.total, both.listed, both.shares_first, both.first_spot, both.first) == (6, 6, 4, 4, 2)
    assert (both.most_first_spot, both.likely, both.likely_first_spot) == (6, 3.0, 0.0)
