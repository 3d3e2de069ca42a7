"""Care, come-backs and waiting students in the demo."""

from __future__ import annotations

from copy import deepcopy

import pytest

from desk.demo.gift import fill_the_bench, take_the_gift
from desk.demo.upkeep import BEHIND, COMES_BACK, come_back, let_some_wait, look_after_the_fleet
from desk.demo.year import repair_some
from desk.selectors.bench_day import bench_day
from inventory.models import Instrument
from loans.models import Student
from repairs.models import CareDone
from repairs.selectors.care import care_overview
from repairs.selectors.season import season_of
from tests.desk.demo.stages import make_stage


@pytest.fixture(scope="module")
def whole(shared_rows):
    return make_stage(seen=True, share=0.5)


@pytest.fixture
def stage(db, whole):
    return deepcopy(whole)


def test_the_summer_s_care_is_noted_everywhere_but_where_nobody_got_round_to_it(stage):
    look_after_the_fleet(stage)
    assert CareDone.objects.exists()
    assert not CareDone.objects.filter(instrument__school__code=BEHIND).exists()
    worst = care_overview(stage.people["tech"], today=stage.at(0).date()).sets[0]
    assert worst.days_over > 100
    assert all(row.done_on <= row.recorded_at.date() for row in CareDone.objects.all())


def test_two_repairs_come_back_in_the_season(stage):
    repair_some(stage, days=-140, most=8)
    come_back(stage)
    page = season_of(stage.people["tech"], now=stage.at(0), days=365)
    assert len(page.back) == COMES_BACK
    assert all(0 < line.back.days <= 90 for line in page.back)


def test_students_wait_for_what_lies_on_the_bench(stage):
    fill_the_bench(stage, take_the_gift(stage))
    let_some_wait(stage)
    waiting = Student.objects.waiting()
    assert waiting.exists()
    kinds = set(Instrument.objects.filter(whereabouts="on_bench").values_list("school", "kind_code"))
    assert set(waiting.values_list("school", "wants_kind")) <= kinds
    day = bench_day(stage.people["tech"], bench=None, starts_at=stage.at(0), hours=4.0)
    assert day.rows
