"""The care that the catalog holds: every kind has a card, and every interval a reason."""

from __future__ import annotations

import pytest

from inventory.catalog.load import CatalogError, load_catalog
from inventory.catalog.schema import NO_CARD

TRADE = load_catalog()


def test_every_kind_has_a_card_with_all_three_parts():
    lacking = [
        kind.code for kind in TRADE.kinds.values() if not (kind.card.daily and kind.card.weekly and kind.card.never)
    ]
    assert lacking == []


def test_no_card_sends_a_student_to_repair_or_puts_wood_in_water():
    """Cards defer to the bench (common practice): never force, never a tool, a woodwind never in water."""
    for kind in TRADE.kinds.values():
        card = kind.card
        told = " ".join((*card.daily, *card.weekly)).lower()
        assert "plier" not in told
        assert "solder" not in told
        if kind.family == "woodwind":
            assert any("water" in line for line in card.never) or "reed" in " ".join(card.never).lower()


def test_an_empty_card_says_nothing():
    assert (NO_CARD.daily, NO_CARD.weekly, NO_CARD.never) == ((), (), ())


def test_a_used_instrument_never_waits_longer_than_an_idle_one():
    assert all(one.idle_months == 0 or one.months <= one.idle_months for one in TRADE.intervals.values())
    assert all(one.why and one.name for one in TRADE.intervals.values())


def test_a_district_sets_its_own_interval(tmp_path):
    (tmp_path / "intervals.yaml").write_text("intervals: {bath: {months: 24}}\n")
    own = load_catalog(override=tmp_path).intervals
    assert own["bath"].months == 24
    assert own["bath"].method == TRADE.intervals["bath"].method


@pytest.mark.parametrize(
    ("entry", "key"),
    [
        ("{bath: {method: no_such_method}}", "intervals.bath.method"),
        ("{bath: {months: 0}}", "intervals.bath.months"),
        ("{bath: {roles: [no_such_role]}}", "intervals.bath.roles"),
        ("{bath: {kinds: [no_such_kind]}}", "intervals.bath.kinds"),
        ("{bath: {often: yes}}", "intervals.bath.often"),
        ("{wax: {name: Wax it, months: 3, why: It shines.}}", "intervals.wax.minutes"),
    ],
)
def test_an_interval_that_does_not_fit_is_named(tmp_path, entry, key):
    (tmp_path / "intervals.yaml").write_text(f"intervals: {entry}\n")
    with pytest.raises(CatalogError) as refused:
        load_catalog(override=tmp_path)
    assert key in [problem.key for problem in refused.value.problems]
