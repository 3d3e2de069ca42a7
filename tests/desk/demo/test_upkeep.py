"""Care, come-backs and waiting students in the demo."""

from __future__ import annotations

from copy import deepcopy

import pytest

from desk.demo.gift import register_gift, start_jobs
from desk.demo.upkeep import COMEBACKS, SCHOOL_BEHIND, add_comebacks, add_waiting_students, record_summer_care
from desk.demo.year import repair_instruments
from desk.pages.bench_day import bench_day
from desk.selectors.bench_day import planned_day
from inventory.models import Instrument
from loans.models import Student
from repairs.models import CareDone
from repairs.selectors.care import care_overview
from repairs.selectors.season import season_of
from tests.desk.demo.stages import make_stage

pytestmark = pytest.mark.drill


@pytest.fixture(scope="module")
def whole(shared_rows):
    return make_stage(seen=True, share=0.5)


@pytest.fixture
def stage(db, whole):
    return deepcopy(whole)


def test_summer_care_is_recorded_everywhere_but_at_the_school_that_skipped_it(stage):
    record_summer_care(stage)
    assert CareDone.objects.exists()
    assert not CareDone.objects.filter(instrument__school__code=SCHOOL_BEHIND).exists()
    worst = care_overview(stage.people["tech"], today=stage.at(0).date()).sets[0]
    assert worst.days_over > 100
    assert all(row.done_on <= row.recorded_at.date() for row in CareDone.objects.all())


def test_two_repairs_come_back_in_the_season(stage):
    repair_instruments(stage, days=-140, most=8)
    add_comebacks(stage)
    page = season_of(stage.people["tech"], now=stage.at(0), days=365)
    assert len(page["back"]) == COMEBACKS
    assert all(0 < line.back.days <= 90 for line in page["back"])


def test_students_wait_for_what_is_on_the_bench(stage):
    start_jobs(stage, register_gift(stage))
    add_waiting_students(stage)
    waiting = Student.objects.waiting()
    assert waiting.exists()
    kinds = set(Instrument.objects.filter(whereabouts="on_bench").values_list("school", "kind_code"))
    assert set(waiting.values_list("school", "wants_kind")) <= kinds
    day = bench_day(planned_day(stage.people["tech"], bench=None, starts_at=stage.at(0), hours=4.0))
    assert day["rows"]
