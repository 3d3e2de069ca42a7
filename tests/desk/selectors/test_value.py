"""What the fleet is worth on a day: figures worked by hand, and the same answer whenever it is asked."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from desk.selectors.value import Sums, fiscal_year_begins, fleet_value, fleet_value_kept, trade_of, valued
from inventory.catalog.load import catalog
from inventory.models import Acquired, Instrument, Whereabouts
from inventory.selectors.past import AsOf
from inventory.services.figures import set_figures
from inventory.services.registering import change_instrument
from inventory.services.state import move_instrument
from repairs.selectors.worth import worth_of
from tests.factories import NOW, TODAY, make_district, make_inspection, make_instrument, make_school

pytestmark = pytest.mark.django_db
D = Decimal
SEIZED = ("third_valve_slide", "slide_seized", "severe")
YEAR_END = date(2026, 6, 30)


def make_old(**fields):
    """A trumpet of July 2018 for $750: its kind lives 15 years and costs 400 to 900."""
    given = {"acquired_on": date(2018, 7, 1), "acquisition_cost_amount": D(750), "year_made": 2018}
    return make_instrument(**(given | fields))


def test_an_instrument_is_worth_what_the_figures_say():
    """Worked by hand. Book: 96 of 180 months are gone, 750 x 84/180 = 350. Of eight years of fiscal years 8 are gone
    by the close of this one: 350 too. Another: (400 + 900) / 2 = 650. In playing condition: 650 - 585 x 8/15 = 338.
    """
    make_old()
    (one,) = valued(AsOf(YEAR_END), trade=catalog())
    assert (one.cost, one.book, one.group_book, one.replacement) == (750, D("350.00"), D("350.00"), D("650.00"))
    assert (one.repair, one.condition_adjusted) == (0, D("338.00"))
    assert one.is_kind_price
    assert one.treatment == "supply"
    assert not one.is_inspected


def test_a_life_of_half_years_is_counted_as_it_is():
    """Worked by hand: a clarinet lives 10 to 15 years, 12.5 or 150 months. Book: 96 of 150 months are gone, 750 x 54/150
    = 270; as a group 8 of 12.5 years, 270 too. In playing condition: 700 - 630 x 8/12.5 = 296.80.
    """
    make_old(kind_code="clarinet_bb")
    (one,) = valued(AsOf(YEAR_END), trade=catalog())
    assert (one.book, one.group_book, one.condition_adjusted) == (D("270.00"), D("270.00"), D("296.80"))
    assert fleet_value(AsOf(YEAR_END)).composite.life_years == D("12.5")


def test_a_figure_of_its_own_grows_from_the_day_it_was_given():
    """Given on August 15, 2026: 2000 x 1.03^2 = 2121.80 two years later, 2000 / 1.03 = 1941.75 the day before."""
    make_old(replacement_amount=D(2000))
    for day, price in ((TODAY, 2000), (date(2028, 8, 15), "2121.80"), (date(2026, 8, 14), "1941.75")):
        (one,) = valued(AsOf(day), trade=catalog())
        assert (one.replacement, one.is_kind_price) == (D(price), False)


def test_a_kinds_price_is_of_its_calendar_year():
    """650 in 2026; 650 / 1.03 = 631.07 in 2025, 650 x 1.03 = 669.50 in 2027."""
    make_old()
    for day, price in ((date(2025, 12, 31), "631.07"), (date(2026, 1, 1), "650.00"), (date(2027, 1, 1), "669.50")):
        assert fleet_value(AsOf(day)).total.replacement == D(price)


def test_the_question_of_worth_says_the_same_value_as_is():
    instrument = make_old()
    make_inspection(instrument=instrument, findings=[SEIZED])
    (one,) = valued(AsOf(TODAY), trade=catalog())
    assert one.repair > 0
    assert one.condition_adjusted == D("338.00") - one.repair
    today = worth_of(Instrument.objects.get(), is_student_waiting=False, now=NOW, today=TODAY)
    assert one.condition_adjusted == today.value.as_is_amount
    (before,) = valued(AsOf(TODAY - timedelta(days=1)), trade=catalog())
    assert (before.repair, before.is_inspected) == (0, False)


def test_sums_are_those_of_their_lines_by_school_and_kind():
    elm, oak = make_school(), make_school()
    make_old(school=elm)
    make_old(school=elm, acquisition_cost_amount=None, acquired_by=Acquired.GIFT)
    make_old(school=oak, kind_code="tuba", acquisition_cost_amount=D("6000.10"), acquired_on=None)
    fleet = fleet_value(AsOf(TODAY))
    assert {school: sums.instruments for school, sums in fleet.by_school.items()} == {elm.pk: 2, oak.pk: 1}
    assert {kind: sums.acquisition for kind, sums in fleet.by_kind.items()} == {"trumpet": 750, "tuba": D("6000.10")}
    total = fleet.total
    assert total.acquisition == D("6750.10")
    assert total.book == sum(one.book for one in valued(AsOf(TODAY), trade=catalog()))
    assert (total.without_cost, total.without_day, total.by_kind_price, total.not_inspected) == (1, 1, 3, 3)
    assert (total.capital, total.capital_amount, total.supply, total.supply_amount) == (1, D("6000.10"), 1, 750)
    assert fleet_value(AsOf(TODAY), schools=[oak.pk]).total == fleet.by_school[oak.pk]


def test_nothing_held_is_worth_nothing():
    assert fleet_value(AsOf(TODAY)).total == Sums()
    assert fleet_value(AsOf(TODAY)).total.index is None
    assert fleet_value(AsOf(TODAY)).composite.rate is None


def test_the_composite_rate_is_that_of_the_kinds():
    """Trumpets 750 over 15 years = 50 a year; a tuba of 6000 over its life; by hand from the catalog's years."""
    make_old()
    make_old(kind_code="tuba", acquisition_cost_amount=D(6000))
    low, high = catalog().kind("tuba").life_years
    yearly = D(50) + D(6000) / (D(low + high) / 2)
    found = fleet_value(AsOf(TODAY)).composite
    assert found.cost == 6750
    assert found.rate == yearly / 6750


def test_the_figures_of_the_day_are_those_that_hold(administrator):
    make_district()
    make_old(acquisition_cost_amount=D(1500))
    set_figures(values={"salvage_share": "20", "capital_level_amount": "1000", "fiscal_year_begins": "01-01"},
                effective_on=TODAY, actor=administrator, at=NOW)  # fmt: skip
    (now,) = valued(AsOf(TODAY), trade=trade_of(AsOf(TODAY)))
    assert (now.salvage, now.treatment) == (300, "capital")
    assert fiscal_year_begins(trade_of(AsOf(TODAY))) == (1, 1)
    yesterday = AsOf(TODAY - timedelta(days=1))
    (before,) = valued(yesterday, trade=trade_of(yesterday))
    assert (before.salvage, before.treatment) == (0, "supply")
    unknown = AsOf(TODAY, known_on=TODAY - timedelta(days=1))
    assert trade_of(unknown).settings["salvage_share"] == 0
    assert fiscal_year_begins(trade_of(unknown)) == (7, 1)


def test_sums_that_are_kept_follow_what_is_entered_and_what_moves(school, director):
    there = make_school()
    instrument = make_old(school=school)
    make_old(school=there)

    def kept(*schools) -> dict[int, Decimal]:
        asked = frozenset(one.pk for one in schools) or None
        fleet = fleet_value_kept(AsOf(YEAR_END), schools=asked, today=TODAY)
        return {school: sums.acquisition for school, sums in fleet.by_school.items()}

    assert kept() == {school.pk: 750, there.pk: 750}
    change_instrument(instrument=instrument, actor=director, at=NOW, school=there, room=None)
    assert kept() == {school.pk: 750, there.pk: 750}, "on the day it was at the first school"
    change_instrument(instrument=instrument, actor=director, at=NOW, acquisition_cost_amount=D(100))
    assert kept() == {school.pk: 100, there.pk: 750}
    assert kept(school) == {school.pk: 100}
    assert kept(there) == {there.pk: 750}


ACTS = st.one_of(
    st.fixed_dictionaries({}, optional={
        "acquisition_cost_amount": st.none() | st.decimals(0, 9000, places=2),
        "replacement_amount": st.none() | st.decimals(1, 9000, places=2),
        "acquired_on": st.none() | st.dates(date(2010, 1, 1), date(2026, 9, 1)),
        "level": st.sampled_from(["student", "intermediate"]),
        "school": st.sampled_from([0, 1]),
    }),
    st.sampled_from(["gone", "inspected", "new"]),
)  # fmt: skip


@pytest.mark.parametrize("examples", [4, pytest.param(120, marks=pytest.mark.drill)])
def test_what_was_known_on_a_day_is_what_was_printed_on_it(examples, director, tech):
    """Whatever happens later, the answer of a day can be given again to the cent."""
    days = [date(2020, 6, 30), YEAR_END, TODAY + timedelta(days=2), date(2027, 6, 30)]

    @settings(
        max_examples=examples, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None
    )
    @given(acts=st.lists(st.tuples(st.integers(0, 1), ACTS), min_size=1, max_size=6))
    def replayed(acts):
        schools = [make_school(), make_school()]
        keys = frozenset(one.pk for one in schools)
        instruments = [make_old(school=schools[0]), make_old(school=schools[1], kind_code="clarinet_bb")]
        printed = {}
        for number, (which, act) in enumerate(acts):
            when, instrument = NOW + timedelta(days=number), Instrument.objects.get(pk=instruments[which].pk)
            if act == "gone":
                there = instrument.whereabouts
                to = Whereabouts.IN_STORE if there == Whereabouts.GONE else Whereabouts.GONE
                move_instrument(instrument=instrument, expected=there, to=to, actor=director, at=when)
            elif act == "inspected":
                make_inspection(instrument=instrument, actor=tech, findings=[SEIZED] if which == 0 else [], at=when)
            elif act == "new":
                make_old(school=schools[which], at=when)
            else:
                said = dict(act)
                if "school" in said:
                    said |= {"school": schools[said["school"]], "room": None}
                change_instrument(instrument=instrument, actor=director, at=when, **said)
            known = TODAY + timedelta(days=number)
            printed |= {(day, known): answer(AsOf(day), keys) for day in days}
        for day in days:
            kept = fleet_value_kept(AsOf(day), schools=keys, today=TODAY)
            assert {key: sums for key, sums in kept.lines.items() if sums.instruments} == answer(AsOf(day), keys)
        for (day, known), was in printed.items():
            assert answer(AsOf(day, known_on=known), keys) == was, (day, known, acts)

    replayed()


def answer(as_of: AsOf, schools: frozenset[int]) -> dict[tuple[int, str], Sums]:
    return dict(fleet_value(as_of, schools=schools).lines)
