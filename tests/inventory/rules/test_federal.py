"""2 CFR 200.313(e), revision of 2024, and the amounts that earlier awards may keep."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.rules.federal import share_of, threshold_on
from inventory.rules.value import is_federal_equipment

NEW, OLD = date(2024, 10, 1), date(2024, 9, 30)
EARLIER = Decimal(5000)


@pytest.mark.parametrize(("awarded_on", "threshold"), [(NEW, 10_000), (OLD, 5000), (None, 5000)])
def test_the_threshold_hangs_on_the_day_of_the_award(awarded_on, threshold):
    assert threshold_on(awarded_on, earlier=EARLIER) == threshold


@pytest.mark.parametrize(
    ("awarded_on", "market", "owed"),
    [
        (NEW, "10000.00", "0"),  # 200.313(e)(1): $10,000 or less
        (NEW, "10000.01", "6000.01"),  # (e)(2)
        (OLD, "5000.00", "0"),
        (OLD, "5000.01", "3000.01"),
        (OLD, "10000.00", "6000.00"),
    ],
)
def test_nothing_is_owed_up_to_the_threshold(awarded_on, market, owed):
    share = share_of(percent=Decimal(60), market=Decimal(market), proceeds=None, awarded_on=awarded_on, earlier=EARLIER)
    assert share.owed == Decimal(owed)


@pytest.mark.parametrize(
    ("awarded_on", "keeps", "kept", "owed"),
    [(NEW, False, 0, 9000), (NEW, True, 1000, 8000), (OLD, True, 500, 8500)],
)
def test_a_sale_for_15_000_with_60_percent(awarded_on, keeps, kept, owed):
    """Share 9,000; after the optional 1,000: 8,000 paid. Before the revision: $500 or 10 %, whichever is less."""
    share = share_of(
        percent=Decimal(60), market=Decimal(15_000), proceeds=Decimal(15_000), awarded_on=awarded_on, earlier=EARLIER,
        keeps_handling=keeps,
    )  # fmt: skip
    assert (share.share, share.kept, share.owed) == (9000, kept, owed)


def test_of_small_proceeds_an_earlier_award_keeps_a_tenth():
    share = share_of(
        percent=Decimal(100), market=Decimal(6000), proceeds=Decimal(3000), awarded_on=OLD, earlier=EARLIER,
        keeps_handling=True,
    )  # fmt: skip
    assert (share.kept, share.owed) == (300, 2700)


@pytest.mark.parametrize(
    ("cost", "level", "is_equipment"), [(6500, 5000, True), (6500, 25_000, False), (10_000, 25_000, True)]
)
def test_equipment_begins_at_the_lesser_of_the_districts_level_and_the_federal_one(cost, level, is_equipment):
    """2 CFR 200.1, Equipment and Supplies, revision of 2024."""
    assert is_federal_equipment(Decimal(cost), level=Decimal(level)) is is_equipment
