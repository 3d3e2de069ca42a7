"""What there is to replace: held and in use, priced as the value of the fleet, with lives as they ended here."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from desk.selectors.replacement import age_in_years, first_curve, need_of
from desk.selectors.value import fleet_value
from inventory.catalog.load import catalog
from inventory.models import Instrument, Whereabouts
from inventory.rules.replacement import FleetUnit, replacement_need, steady_budget
from inventory.rules.survivors import Origin, SeenLife, learn_curve
from inventory.selectors.past import AsOf
from inventory.selectors.school_sums import forget_sums
from inventory.services.state import move_instrument
from repairs.services.worth import settle_decision
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_school
from tests.repairs.money_makers import make_decision, make_parts_instrument

pytestmark = pytest.mark.django_db
D = Decimal
SEIZED = ("third_valve_slide", "slide_seized", "severe")
BEGAN = datetime(2016, 9, 14, 15, 0, tzinfo=UTC)


def make_old(year_made: int = 2006, **fields) -> Instrument:
    return make_instrument(**({"year_made": year_made} | fields))


def entered_at(at: datetime) -> None:
    """Let everything have been registered then."""
    Instrument.objects.update(registered_at=at)
    forget_sums()


def test_an_age_counts_from_the_middle_of_the_year_or_the_day_it_came():
    """July 1, 2018 to September 14, 2026 is 2997 days, 8.2 years."""
    assert age_in_years(year_made=2018, acquired_on=date(2020, 1, 1), day=TODAY) == pytest.approx(8.205, abs=0.001)
    assert age_in_years(year_made=None, acquired_on=date(2025, 9, 14), day=TODAY) == pytest.approx(1, abs=0.001)
    assert age_in_years(year_made=2026, acquired_on=None, day=date(2026, 3, 1)) == 0
    assert age_in_years(year_made=None, acquired_on=None, day=TODAY) is None


def test_prices_and_repairs_are_those_of_the_value_of_the_fleet():
    make_inspection(instrument=make_old(), findings=[SEIZED])
    make_old(kind_code="tuba", replacement_amount=D(5000))
    need, value = need_of(schools=None, today=TODAY), fleet_value(AsOf(TODAY)).total
    assert sum(one.replacement for one in need.facts) == value.replacement
    assert sum(one.repair for one in need.facts) == value.repair > 0


def test_the_sums_are_those_of_the_rule():
    """The same three instruments written out by hand: a trumpet costs (400 + 900) / 2."""
    made = [make_old(2008), make_old(2024), make_old(kind_code="tuba", year_made=None, replacement_amount=D(5000))]
    trade = catalog()
    trumpet, tuba = first_curve("trumpet", trade=trade), first_curve("tuba", trade=trade)
    ages = [(TODAY - date(year, 7, 1)).days / 365.25 for year in (2008, 2024)]
    units = [
        FleetUnit(made[0].asset_number, trumpet, ages[0], D(650), repair_limit=D("0.5")),
        FleetUnit(made[1].asset_number, trumpet, ages[1], D(650), repair_limit=D("0.5")),
        FleetUnit(made[2].asset_number, tuba, None, D(5000), repair_limit=D("0.5")),
    ]
    need = need_of(schools=None, today=TODAY)
    assert need.years == replacement_need(units, price_growth=trade.settings["price_growth"])
    assert need.budget == steady_budget(units)


def test_what_is_gone_retired_or_kept_for_parts_is_not_replaced(school):
    move_instrument(
        instrument=make_old(school=school), expected=Whereabouts.IN_STORE, to=Whereabouts.GONE, actor=None, at=NOW
    )
    make_parts_instrument(school=school)
    stays = make_old(school=school)
    need = need_of(schools=None, today=TODAY)
    assert [one.number for one in need.facts] == [stays.asset_number]
    assert need.out_of_use == 1


def test_only_the_schools_asked_about_are_counted(school):
    mine, there = make_old(school=school), make_school()
    make_old(school=there)
    assert [one.number for one in need_of(schools=[school.pk], today=TODAY).facts] == [mine.asset_number]
    assert set(need_of(schools=None, today=TODAY).by_school) == {school.pk, there.pk}


def test_lives_are_learned_from_all_schools(school, administrator):
    """Six of 2006, seen from 2016 on: one retired by a decision, four kept for parts, one given away; and one in use."""
    there = make_school()
    retired = make_decision(make_old(school=there), "retire", because="Worn out")
    settle_decision(decision=retired, is_approved=True, actor=administrator, at=NOW)
    for _number in range(4):
        make_parts_instrument(instrument=make_old(school=there))
    move_instrument(
        instrument=make_old(school=there), expected=Whereabouts.IN_STORE, to=Whereabouts.GONE, actor=None, at=NOW
    )
    make_old(school=school)
    make_old(school=school, year_made=None)
    entered_at(BEGAN)
    curve = need_of(schools=[school.pk], today=TODAY).curves["trumpet"]
    age, since = (TODAY - date(2006, 7, 1)).days / 365.25, (BEGAN.date() - date(2006, 7, 1)).days / 365.25
    lives = [SeenLife(age, is_retired=number < 5, seen_from_years=since) for number in range(7)]
    assert curve == learn_curve(lives, start=first_curve("trumpet", trade=catalog()))
    assert (curve.origin, curve.retirements) == (Origin.SCALE_LEARNED, 5)


def test_where_too_few_were_retired_the_catalog_speaks(school):
    make_old(school=school)
    make_parts_instrument(instrument=make_old(school=school))
    need = need_of(schools=None, today=TODAY)
    low, high = catalog().kind("trumpet").life_years
    curve = need.curves["trumpet"]
    assert (curve.age_when(0.75), curve.age_when(0.25)) == (pytest.approx(low), pytest.approx(high))


def test_it_costs_the_same_queries_for_one_and_for_many(school):
    def cost() -> int:
        forget_sums()
        with CaptureQueriesContext(connection) as caught:
            need_of(schools=None, today=TODAY)
        return len(caught)

    make_old(school=school)
    make_parts_instrument(school=school)
    first = cost()
    for kind in ("tuba", "flute", "clarinet_bb"):
        make_old(school=make_school(), kind_code=kind)
        make_parts_instrument(kind_code=kind)
    assert cost() == first


def test_what_was_worked_out_is_kept_until_something_happens(school):
    make_old(school=school)
    need = need_of(schools=None, today=TODAY)
    assert need_of(schools=None, today=TODAY) is need
    assert need_of(schools={school.pk}, today=TODAY) is not need
    make_old(school=school)
    assert len(need_of(schools=None, today=TODAY).facts) == 2
    make_parts_instrument(school=school)
    assert need_of(schools=None, today=TODAY).out_of_use == 1
