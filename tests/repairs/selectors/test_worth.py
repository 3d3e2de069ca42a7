"""Is it worth it, from the rows: figures worked by hand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.money import cents
from inventory.catalog.load import catalog
from inventory.models import Instrument
from inventory.selectors.standing import standing_of
from repairs.models import Attempt
from repairs.selectors.standard_cost import standard_cost
from repairs.selectors.worth import (
    age_of,
    has_casing_in_hand,
    life_of,
    parts_value,
    same_part_repairs,
    spent_on,
    spent_since,
    worth_of,
)
from repairs.services.jobs import give_up_job
from repairs.services.orders import bring_back, note_invoice, send_to_shop
from tests.factories import NOW, TODAY, make_bench, make_inspection, make_instrument, make_ready_instrument, new_nonce
from tests.repairs.makers import LEAKING_CORK
from tests.repairs.money_makers import (
    STUCK,
    finding_of,
    make_job,
    make_order,
    make_parts_instrument,
    make_sent_order,
    make_stuck_instrument,
    make_taken,
)

pytestmark = pytest.mark.django_db
D = Decimal


def page(instrument, **fields):
    given = {"is_student_waiting": False, "now": NOW, "today": TODAY} | fields
    return worth_of(Instrument.objects.get(pk=instrument.pk), **given)


def test_age_is_by_the_year_it_was_made_else_by_when_it_came_else_unknown():
    assert age_of(make_instrument(year_made=2016), today=TODAY) == 10
    assert age_of(make_instrument(acquired_on=TODAY - timedelta(days=800)), today=TODAY) == 2
    assert age_of(make_instrument(), today=TODAY) is None


def test_a_young_instrument_with_a_small_fault_is_repaired_here_with_its_arithmetic_shown():
    instrument = make_instrument(year_made=2024)
    make_inspection(instrument=instrument, findings=[LEAKING_CORK])
    found = page(instrument)
    assert found.worth.answer == "repair_here"
    assert life_of(instrument) == 15
    assert found.value.playing_amount == D("572.00")  # 650 - 585 x 2/15
    assert found.facts.years_left == 18  # a trumpet lives 10 to 20 years
    labels = [line.label for line in found.worth.lines]
    assert "Keeping, a year" in labels
    assert "Replacing, a year" in labels


def test_an_old_instrument_counts_for_its_floor_and_is_counted_on_for_a_few_years():
    instrument = make_stuck_instrument(year_made=1980)
    found = page(instrument)
    assert found.value.playing_amount == D("195.00")  # 30% of 650
    assert found.facts.years_left == 3


def test_a_waiting_student_counts_only_where_no_other_is_free():
    instrument = make_stuck_instrument(year_made=2020)
    assert page(instrument, is_student_waiting=True).others_free == 0
    make_ready_instrument(school=instrument.school)
    found = page(instrument, is_student_waiting=True)
    assert (found.others_free, found.facts.is_other_free) == (1, True)


def test_what_was_spent_counts_bench_parts_and_bills_of_the_last_year():
    job = make_job(bench=make_bench(rate_amount=D(30)))
    for minutes, days in ((D(20), 1), (D(500), 400)):
        Attempt.objects.create(
            job=job, nonce=new_nonce(), step_key="x", method="x", outcome="done", minutes=minutes,
            ended_at=NOW - timedelta(days=days), parts_amount=D("3.50"), actor=job.opened_by,
        )  # fmt: skip
    order = send_to_shop(order=make_order(instrument=job.instrument), actor=job.opened_by, at=NOW)
    bring_back(order=order, what_was_done="Done", actor=job.opened_by, at=NOW)
    note_invoice(order=order, amount=D(80), on=TODAY, actor=job.opened_by, at=NOW)
    spent = spent_since(job.instrument, since=NOW - timedelta(days=365))
    assert spent.amount == D("93.50")
    assert (spent.minutes, spent.bench_amount, spent.parts_amount, spent.shop_amount) == (20, 10, D("3.50"), 80)


def test_minutes_nobody_timed_count_as_estimated_and_a_closed_job_counts_its_own():
    bench = make_bench(rate_amount=D(30))
    job = make_job(bench=bench)
    for taken in ({"minutes": D(20)}, {"estimated_minutes": D(8)}):
        Attempt.objects.create(
            job=job, nonce=new_nonce(), step_key="x", method="x", outcome="done", ended_at=NOW, actor=job.opened_by,
            **taken,
        )  # fmt: skip
    spent = spent_on(give_up_job(job=job, because="No parts", actor=job.opened_by, at=NOW))
    assert (spent.minutes, spent.estimated_minutes, spent.bench_amount) == (28, 8, 14)
    assert spent_since(job.instrument, since=NOW - timedelta(days=1)) == spent
    other = make_job(instrument=Instrument.objects.get(pk=job.instrument_id), bench=bench)
    assert spent_on(give_up_job(job=other, because="No parts", actor=job.opened_by, at=NOW)).minutes == 0


def test_repairs_of_the_same_part_are_counted_by_job_where_it_is_at_fault_again():
    instrument = make_stuck_instrument()
    for _ in range(2):
        job = make_job(instrument=Instrument.objects.get(pk=instrument.pk))
        for part in ("main_tuning_slide", "main_tuning_slide", "bell"):
            Attempt.objects.create(
                job=job, nonce=new_nonce(), step_key="x", method="x", part=part, outcome="done", ended_at=NOW,
                actor=job.opened_by,
            )  # fmt: skip
        give_up_job(job=job, because="Back in the rack", actor=job.opened_by, at=NOW)
    assert same_part_repairs(instrument, standing_of(instrument), since=NOW - timedelta(days=700)) == 2
    assert same_part_repairs(instrument, standing_of(instrument), since=NOW + timedelta(days=1)) == 0
    assert any(rule.code == "same_part" and not rule.says_repair for rule in page(instrument).worth.rules)


def test_a_shop_s_repair_of_the_same_part_counts_as_well():
    instrument = make_stuck_instrument()
    finding = finding_of(instrument)
    order = make_sent_order(instrument=instrument, findings=[finding.pk])
    at = NOW + timedelta(days=5)
    bring_back(order=order, what_was_done="Freed", put_right=[finding.pk], actor=order.asked_by, at=at)
    make_inspection(instrument=instrument, findings=STUCK, at=at + timedelta(days=20))
    assert same_part_repairs(instrument, standing_of(instrument), since=NOW) == 1


def test_a_cracked_casing_needs_one_in_hand_of_the_same_model():
    instrument = make_instrument(year_made=2022, model="B2")
    make_inspection(instrument=instrument, findings=[("valve_casing", "crack_brass", "severe", "2")])
    assert page(instrument).facts.has_cracked_casing
    assert not has_casing_in_hand(instrument)
    donor = make_parts_instrument(instrument=make_ready_instrument(model="b2"))
    make_parts_instrument(instrument=make_ready_instrument(model="Other"))
    assert has_casing_in_hand(instrument)
    assert page(instrument).facts.has_matching_casing
    make_taken(donor, "valve_casing", place="1")
    assert not has_casing_in_hand(instrument)


def test_tubes_rotted_through_are_counted():
    instrument = make_instrument(year_made=2020)
    make_inspection(
        instrument=instrument, findings=[("leadpipe", "red_rot", "severe"), ("bell_bow", "red_rot", "severe")]
    )
    found = page(instrument)
    assert found.facts.rotted_tubes == 2
    assert found.worth.answer in {"keep_for_parts", "retire"}


def test_parts_are_worth_less_with_each_one_spoiled_or_gone():
    ready, stuck = make_ready_instrument(), make_stuck_instrument()
    whole = parts_value(ready, standing_of(ready))
    assert whole.amount == D("65.00")  # a tenth of 650
    assert whole.sound == whole.total > 10
    assert parts_value(stuck, standing_of(stuck)) == whole  # moderate trouble spoils nothing
    instrument = make_parts_instrument()
    make_taken(instrument)
    left = parts_value(instrument.instrument, standing_of(instrument.instrument))
    assert left.amount < whole.amount
    assert (left.sound, left.total) == (whole.sound - 1, whole.total)


def test_queries_stay_few(django_assert_max_num_queries):
    instrument = Instrument.objects.select_related("school").get(pk=make_stuck_instrument(year_made=2019).pk)
    with django_assert_max_num_queries(17):
        page(instrument)


def test_all_that_is_said_of_a_cost_rests_on_one_four_in_five():
    """A bench's and a shop's own figures would add up to more than four times in five."""
    instrument = make_instrument(year_made=2022)
    make_inspection(
        instrument=instrument,
        findings=[
            LEAKING_CORK,
            ("valve_casing", "crack_brass", "severe", "2"),
        ],
    )
    found = page(instrument)
    taken = found.plan.taken
    assert taken.cost.p80 > 0 < taken.outside_cost.p80
    assert found.worth.cost_p80_amount == cents(taken.total_cost.p80)
    assert found.worth.cost_p80_amount < cents(taken.cost.p80 + taken.outside_cost.p80)


def test_the_value_as_is_is_the_fleets_whatever_the_bench_charges(school):
    """An hour at the school's bench costs ten times the usual one's: its repair does, the value does not."""
    instrument = make_instrument(school=school, year_made=2022)
    make_inspection(instrument=instrument, findings=[LEAKING_CORK])
    usual = standard_cost(instrument.kind_code, {}, standing_of(instrument).findings, trade=catalog())
    make_bench(school=school, rate_amount=D(220))
    found = page(instrument)
    assert found.worth.cost_p80_amount > usual > 0
    assert found.value.as_is_amount == found.value.playing_amount - usual
    assert found.value.as_is_words.endswith("to get there at a usual bench")
