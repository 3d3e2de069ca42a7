"""A school's season from its rows: seats, instruments, what can be done, what can be bought."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from desk.rules.season_plan import Action, Budgets, Candidate, Goal, plan_season
from desk.selectors.season_plan import NO_BENCH, DistrictSeason, SeatLine, Terms, season_of
from inventory.models import Instrument, Whereabouts
from tests.factories import (
    TODAY,
    make_inspection,
    make_instrument,
    make_limited_instrument,
    make_ready_instrument,
    make_school,
)
from tests.loans.makers import make_ensemble, make_loan, make_period, make_seat, make_shared_use
from tests.repairs.makers import STUCK, make_job, make_school_bench
from tests.repairs.money_makers import estimated, make_order, make_refusal, make_sent_order

pytestmark = pytest.mark.django_db


def season(*schools, **terms) -> DistrictSeason:
    return season_of(schools, Terms(today=TODAY, **terms))


def candidate(found: DistrictSeason, instrument: Instrument) -> Candidate | None:
    return next((one for one in found.season.candidates if one.key == instrument.asset_number), None)


@pytest.fixture
def band(school):
    return make_ensemble(school=school, name="Wind band", level="concert", priority=2)


@pytest.fixture
def seat(band):
    return make_seat(place=band, kind_code="trumpet")


def make_stuck(school, actor) -> Instrument:
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[STUCK], actor=actor)
    return Instrument.objects.get(pk=instrument.pk)


def test_students_who_need_the_same_are_one_line(school, band, seat):
    make_seat(place=band, kind_code="trumpet")
    make_seat(place=band, kind_code="trumpet", is_own=True)
    make_seat(place=make_period(school=school), kind_code="flute", level="first_year", size="")
    found = season(school, needed_by=TODAY + timedelta(days=30))
    lines = {found.seats[one.key]: (one.count, one.priority, one.level, one.needed_by) for one in found.season.seats}
    due = TODAY + timedelta(days=30)
    assert lines == {
        SeatLine(school.code, 2, "Wind band", "trumpet", "", "concert"): (2, 2, "concert", due),
        SeatLine(school.code, 9, "", "flute", "", "first_year"): (1, 9, "first_year", due),
    }


def test_what_may_go_out_is_ready_and_has_nothing_to_be_done(school, seat):
    plain = make_ready_instrument(school=school)
    one = candidate(season(school), plain)
    assert (one.is_ready, one.levels, one.options) == (True, None, ())


def test_what_has_limits_is_ready_for_the_levels_it_is_enough_for(school, band):
    """A leak at the low C sharp pad takes notes that only concert players need; it can be repaired for them."""
    make_seat(place=band, kind_code="flute")
    flute = make_instrument(school=school, kind_code="flute")
    make_inspection(instrument=flute, findings=[("foot_keys", "pad_leak", "severe", "low_Cs_pad")])
    one = candidate(season(school), flute)
    assert one.is_ready
    assert "first_year" in one.levels
    assert "concert" not in one.levels
    assert one.options


def test_what_is_enough_for_no_level_is_not_ready(school, seat):
    """A third slide that is stuck: D4 is sharp for everybody."""
    limited = make_limited_instrument(school=school)
    one = candidate(season(school), limited)
    assert not one.is_ready
    assert one.options


def test_what_does_not_play_has_the_ways_that_the_bench_and_a_shop_offer(school, seat, tech):
    bench = make_school_bench(school)
    stuck = make_stuck(school, tech)
    one = candidate(season(school, shop_days=9), stuck)
    assert not one.is_ready
    assert [(option.action, option.bench) for option in one.options] == [
        (Action.REPAIR, bench.code),
        (Action.SEND_OUT, ""),
    ]
    assert one.options[1].ready_on == TODAY + timedelta(days=9)


def test_a_school_without_a_bench_works_by_its_own_hands(school, seat, tech):
    stuck = make_stuck(school, tech)
    assert candidate(season(school), stuck).options[0].bench == NO_BENCH


def test_what_is_out_with_a_student_who_needs_it_counts_and_with_anybody_else_does_not(school, seat):
    mine, other = make_loan(school=school, student=seat.student), make_loan(school=school)
    found = season(school)
    assert candidate(found, mine.instrument).is_ready
    assert candidate(found, other.instrument) is None


def test_what_is_shared_in_class_is_neither_wanted_nor_offered(school):
    use = make_shared_use(school=school)
    found = season(school)
    assert found.season.seats == ()
    assert candidate(found, use.instrument) is None


def test_what_is_lost_gone_or_retired_fills_no_seat(school, seat):
    lost, retired = make_ready_instrument(school=school), make_ready_instrument(school=school)
    Instrument.objects.filter(pk=lost.pk).update(whereabouts=Whereabouts.NOT_FOUND)
    Instrument.objects.filter(pk=retired.pk).update(is_retired=True)
    found = season(school)
    assert (candidate(found, lost).is_ready, candidate(found, lost).options) == (False, ())
    assert candidate(found, retired) is None


def test_an_order_that_was_approved_costs_nothing_more_and_is_there_when_promised(school):
    order = make_sent_order(promised_in=7)
    make_seat(place=make_ensemble(school=order.instrument.school), kind_code=order.instrument.kind_code)
    (option,) = candidate(season(order.instrument.school), order.instrument).options
    assert (option.action, option.shop_amount, option.ready_on) == (Action.SEND_OUT, 0, order.promised_on)


def test_an_order_without_a_price_costs_what_a_shop_would_ask_and_has_no_way_where_nobody_knows(school, seat, tech):
    stuck, unseen = make_stuck(school, tech), make_instrument(school=school)
    before = candidate(season(school), stuck).options[1].shop_amount
    for instrument in (stuck, unseen):
        make_order(instrument=instrument, expected_high_amount=None)
    found = season(school)
    (option,) = candidate(found, stuck).options
    assert (option.action, option.shop_amount) == (Action.SEND_OUT, before)
    assert before > 0
    assert candidate(found, unseen).options == ()


def test_an_order_with_an_estimate_costs_that(school, seat, tech):
    estimated(make_order(instrument=make_stuck(school, tech)), 75)
    assert [one.options[0].shop_amount for one in season(school).season.candidates] == [75]


def test_what_somebody_refused_to_spend_on_is_left(school, seat, tech):
    refusal = make_refusal(instrument=make_stuck(school, tech))
    found = season(school)
    assert candidate(found, refusal.instrument).options == ()
    assert found.outlooks[refusal.instrument.asset_number].is_refused


def test_an_open_job_goes_on_at_its_bench(school, seat, tech):
    job = make_job(school=school, actor=tech)
    if job.instrument.kind_code != "trumpet":
        make_seat(place=make_ensemble(school=school), kind_code=job.instrument.kind_code)
    (option,) = candidate(season(school), job.instrument).options
    assert (option.action, option.bench) == (Action.REPAIR, job.bench.code)


def test_a_new_one_costs_the_middle_of_the_catalogs_price_for_its_level_unless_nothing_is_to_be_bought(school, seat):
    make_seat(place=make_period(school=school), kind_code="trumpet", level="first_year")
    make_seat(place=make_period(school=school), kind_code="trumpet", level="second_year")
    better, purchase = season(school).season.purchases
    assert (better.key, better.price_amount, better.levels) == (
        "new trumpet intermediate", Decimal("1700.00"), {"concert"},  # 1,200 to 2,200
    )  # fmt: skip
    assert (purchase.key, purchase.kind) == ("new trumpet", "trumpet")
    assert (purchase.price_amount, purchase.levels) == (Decimal("650.00"), {"first_year", "second_year"})  # 400 to 900
    assert purchase.ready_on == TODAY + timedelta(days=60)
    assert season(school, is_buying=False).season.purchases == ()


def test_schools_are_planned_together_and_each_instrument_stays_at_its_own(school, seat):
    other = make_school()
    make_ready_instrument(school=other)
    found = season(school, other, goal=Goal.MOST, budgets=Budgets(None, Decimal(0), Decimal(0), Decimal(0)))
    plan = plan_season(found.season)
    assert (plan.seated, plan.wanted) == (0, 1)
    assert found.season.goal is Goal.MOST


def test_more_students_and_instruments_cost_no_more_queries(school, seat, tech):
    make_stuck(school, tech)
    season(school)
    with CaptureQueriesContext(connection) as few:
        season(school)
    for _ in range(3):
        make_stuck(school, tech)
        make_ready_instrument(school=school)
        make_seat(place=make_ensemble(school=school), kind_code="trumpet")
    with CaptureQueriesContext(connection) as many:
        season(school)
    assert len(many) <= len(few)
