import pytest

from inventory.rules.diagnose import RankTally, rank_tally
from tests.inventory.rules.cases import CATALOG, KINDS, WITH_NOTES, make_chart


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
    assert 0 < tally.first <= tally.first_spot <= tally.total


def test_tallies_add_up():
    one = RankTally(total=3, listed=3, shares_first=2, first_spot=2, first=1)
    assert one + one == RankTally(total=6, listed=6, shares_first=4, first_spot=4, first=2)
