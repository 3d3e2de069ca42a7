"""Which instruments somebody waits for."""

from __future__ import annotations

from decimal import Decimal

from repairs.selectors.demand import asked_together, group_of, waited_for, waiting_day_amount, who_waits
from tests.factories import make_instrument


def test_nobody_is_asked_about_nothing(django_assert_num_queries, db):
    with django_assert_num_queries(0):
        assert waited_for(set()) == frozenset()


def test_it_is_asked_once(monkeypatch):
    tuba, flute = (1, "tuba"), (1, "flute")
    calls = []

    def answer(groups):
        calls.append(groups)
        return {tuba} & set(groups)

    monkeypatch.setattr(who_waits, "_function", answer)
    assert waited_for([tuba, flute]) == {tuba}
    assert calls == [frozenset({tuba, flute})]
    horn = (2, "horn")
    with asked_together({tuba, flute}):
        assert (waited_for({flute}), waited_for({tuba, flute}), waited_for(())) == (set(), {tuba}, set())
        assert len(calls) == 2
        assert waited_for({tuba, horn}) == {tuba}
        assert calls[2:] == [frozenset({tuba, horn})], "one that nobody asked about then is asked about now"
    assert waited_for({tuba}) == {tuba}
    assert len(calls) == 4


def test_a_day_weighs_what_the_district_says_and_nothing_where_nobody_waits():
    assert waiting_day_amount(is_waited_for=True) == Decimal(1)
    assert waiting_day_amount(is_waited_for=False) == 0


def test_a_group_is_a_school_and_a_kind(db):
    instrument = make_instrument(kind_code="tuba")
    assert group_of(instrument) == (instrument.school_id, "tuba")
