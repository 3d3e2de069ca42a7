"""What a fiscal year changed: what was there, came, went and moved adds up to what is there."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from desk.selectors.value import fleet_value
from desk.selectors.value_year import ADDED, DISPOSED, SHOWN, TRANSFERRED, fiscal_year_kept, fiscal_year_of, movements
from inventory.models import Instrument, Whereabouts
from inventory.selectors.past import AsOf
from inventory.services.disposing import bring_back
from inventory.services.registering import change_instrument
from inventory.services.state import move_instrument
from tests.factories import NOW, TODAY, make_instrument, make_school
from tests.inventory.leaving_makers import make_disposal

pytestmark = pytest.mark.django_db

FIRST, LAST = date(2026, 7, 1), date(2027, 6, 30)


def make_old(**fields):
    return make_instrument(**({"acquired_on": date(2018, 7, 1), "acquisition_cost_amount": Decimal(750)} | fields))


def move(instrument, to, days, expected=Whereabouts.IN_STORE):
    move_instrument(instrument=instrument, expected=expected, to=to, actor=None, at=NOW + timedelta(days=days))


def told(**narrowed):
    return [(one.way, one.school_from, one.school_to, one.on) for one in movements(FIRST, LAST, **narrowed)]


def test_what_was_there_all_year_did_nothing(school):
    make_old(school=school)
    assert told() == []
    year = fiscal_year_of(FIRST, LAST).schools[school.pk]
    assert (year.opening.instruments, year.closing.instruments, year.opening.cost) == (1, 1, 750)


def test_one_is_added_when_it_was_acquired_and_disposed_of_when_it_went(school):
    new = make_old(school=school, acquired_on=date(2026, 8, 1))
    gone = make_old(school=school)
    move(gone, Whereabouts.GONE, 10)
    day = TODAY + timedelta(days=10)
    assert sorted(told()) == [(ADDED, None, school.pk, date(2026, 8, 1)), (DISPOSED, school.pk, None, day)]
    (disposed,) = [one for one in movements(FIRST, LAST) if one.way == DISPOSED]
    # 98.8 months of 180, to the nearest full one 99: 750 x 81/180
    assert (disposed.history.pk, disposed.book) == (gone.pk, Decimal("337.50"))
    assert fiscal_year_of(FIRST, LAST).counts[ADDED].cost == new.acquisition_cost_amount


def test_what_is_entered_later_counts_from_the_day_it_left_once_that_is_known(school):
    gone = make_disposal(make_old(school=school), on=date(2026, 6, 30), at=NOW)
    assert told() == []  # disposed of on the last day of the year before
    assert fiscal_year_of(date(2025, 7, 1), date(2026, 6, 30)).counts[DISPOSED].instruments == 1
    day_before = TODAY - timedelta(days=1)
    assert fleet_value(AsOf(day_before, known_on=day_before)).total.instruments == 1
    bring_back(disposal=gone, because="It never left.", was_wrong=True, actor=gone.actor, at=NOW + timedelta(days=1))
    assert fiscal_year_of(date(2025, 7, 1), date(2026, 6, 30)).counts[DISPOSED].instruments == 0


def test_what_comes_back_is_added_again_on_its_day(school):
    gone = make_disposal(make_old(school=school), way="stolen", on=date(2026, 8, 1))
    back_on = date(2026, 9, 1)
    bring_back(disposal=gone, because="Police.", was_wrong=False, back_on=back_on, actor=gone.actor, at=NOW)
    counts = [fleet_value(AsOf(day)).total.instruments for day in (date(2026, 7, 31), date(2026, 8, 1), back_on)]
    assert counts == [1, 0, 1]


def test_what_was_entered_in_error_was_never_there(school):
    error = make_disposal(make_old(school=school), way="error", at=NOW + timedelta(days=2))
    for day in (date(2020, 1, 1), TODAY, TODAY + timedelta(days=9)):
        assert fleet_value(AsOf(day)).total.instruments == 0
    assert fleet_value(AsOf(TODAY, known_on=TODAY)).total.instruments == 1  # nobody knew yet
    bring_back(disposal=error, because="It is one.", was_wrong=True, actor=error.actor, at=NOW + timedelta(days=3))
    assert fleet_value(AsOf(TODAY)).total.instruments == 1
    assert fleet_value(AsOf(TODAY, known_on=TODAY + timedelta(days=2))).total.instruments == 0


def test_a_transfer_leaves_one_school_and_comes_to_another(school, director):
    there = make_school()
    moved = make_old(school=school)
    change_instrument(instrument=moved, actor=director, at=NOW, school=there, room=None)
    for narrowed in ({}, {"schools": [school.pk]}, {"schools": [there.pk]}):
        assert told(**narrowed) == [(TRANSFERRED, school.pk, there.pk, TODAY)]
    year = fiscal_year_of(FIRST, LAST)
    assert (year.schools[school.pk].sent.instruments, year.schools[there.pk].received.instruments) == (1, 1)
    assert list(fiscal_year_of(FIRST, LAST, schools=[there.pk]).schools) == [there.pk]
    assert told(schools=[make_school().pk]) == []


def test_what_came_and_went_in_one_year_did_both(school, director):
    there = make_school()
    short = make_old(school=school, acquired_on=date(2026, 8, 1))
    change_instrument(instrument=short, actor=director, at=NOW, school=there, room=None)
    move(short, Whereabouts.GONE, 10)
    assert [way for way, *_ in told()] == [ADDED, TRANSFERRED, DISPOSED]


def test_what_came_back_is_added_again(school):
    back = make_old(school=school)
    move(back, Whereabouts.GONE, 10)
    move(back, Whereabouts.IN_STORE, 400, expected=Whereabouts.GONE)
    came = TODAY + timedelta(days=400)
    assert [one.on for one in movements(date(2027, 7, 1), date(2028, 6, 30))] == [came]


def test_the_page_shows_the_first_and_counts_all(school, monkeypatch):
    monkeypatch.setattr("desk.selectors.value_year.SHOWN", 2)
    for _number in range(3):
        make_old(school=school, acquired_on=date(2026, 8, 1))
    year = fiscal_year_of(FIRST, LAST)
    assert SHOWN > 2
    assert (len(year.shown[ADDED]), year.counts[ADDED].instruments) == (2, 3)


ACTS = st.one_of(
    st.tuples(st.just("school"), st.integers(0, 2)),
    st.tuples(st.just("gone"), st.just(0)),
    st.tuples(st.just("acquired"), st.sampled_from([date(2018, 7, 1), date(2026, 7, 1), date(2026, 9, 1)])),
)


@pytest.mark.parametrize("examples", [5, pytest.param(150, marks=pytest.mark.drill)])
def test_beginning_and_changes_make_the_end_at_every_school(examples, school, director):
    """A roll-forward, as every auditor asks for it: common practice, no source."""
    schools = [school, make_school(), make_school()]

    @settings(
        max_examples=examples, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
    )
    @given(acts=st.lists(st.tuples(st.integers(0, 1), st.integers(0, 300), ACTS), max_size=8))
    def rolled(acts):
        instruments = [make_old(school=school), make_old(school=schools[1])]
        for which, days, (act, value) in sorted(acts, key=lambda one: one[1]):
            row, at = Instrument.objects.get(pk=instruments[which].pk), NOW + timedelta(days=days)
            if act == "gone":
                there = row.whereabouts
                to = Whereabouts.IN_STORE if there == Whereabouts.GONE else Whereabouts.GONE
                move_instrument(instrument=row, expected=there, to=to, actor=director, at=at)
            elif act == "school":
                change_instrument(instrument=row, actor=director, at=at, school=schools[value], room=None)
            else:
                change_instrument(instrument=row, actor=director, at=at, acquired_on=value)
        year = fiscal_year_of(FIRST, LAST)
        opening, closing = fleet_value(AsOf(FIRST - timedelta(days=1))), fleet_value(AsOf(LAST))
        for pk, one in year.schools.items():
            for name in ("instruments", "cost"):
                parts = {part: getattr(getattr(one, part), name) for part in one.__dataclass_fields__}
                end = parts["opening"] + parts["added"] + parts["received"] - parts["sent"] - parts["disposed"]
                assert end == parts["closing"], (pk, parts)
            assert one.opening.instruments == (opening.by_school[pk].instruments if pk in opening.by_school else 0)
            assert one.closing.cost == (closing.by_school[pk].acquisition if pk in closing.by_school else 0)

    rolled()


def test_what_is_kept_by_school_comes_to_the_same(school):
    other = make_school()
    make_old(school=other, acquired_on=date(2026, 8, 1))
    make_disposal(make_old(school=school), way="stolen", on=date(2026, 8, 1))
    moved = make_old(school=school)
    change_instrument(instrument=moved, school=other, room=None, actor=None, at=NOW)
    whole = fiscal_year_of(FIRST, LAST)
    for _again in range(2):
        kept = fiscal_year_kept(FIRST, LAST, today=TODAY)
        assert (dict(kept.schools), dict(kept.counts)) == (dict(whole.schools), dict(whole.counts))
        assert [one for way in (ADDED, TRANSFERRED, DISPOSED) for one in kept.shown[way]] == [
            one for way in (ADDED, TRANSFERRED, DISPOSED) for one in whole.shown[way]
        ]
    make_disposal(make_old(school=other), way="stolen", on=date(2026, 8, 2))
    assert fiscal_year_kept(FIRST, LAST, today=TODAY).counts[DISPOSED].instruments == 2
