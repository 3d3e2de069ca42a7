"""What was started in one act is found by its moment and by who did it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desk.selectors.season_started import started_at
from desk.services.season_plan import start_season
from tests.desk.services.test_season_plan import ASKED, make_stuck
from tests.factories import NOW, make_director, make_inspection, make_instrument
from tests.repairs.makers import LEAKING_CORK, make_school_bench
from tests.repairs.money_makers import make_item

pytestmark = pytest.mark.django_db


def start(school, actor, at, **more):
    fields = {"instruments": [make_stuck(school)], "requests": [], "needed_by": None} | more
    start_season(actor=actor, at=at, **fields)


def test_only_what_this_person_started_then_is_in_it(school, director):
    make_school_bench(school)
    start(school, director, NOW, requests=[(school, ASKED)])
    start(school, director, NOW + timedelta(seconds=1))
    start(school, make_director(school), NOW)
    started = started_at(NOW, by=director, now=NOW)
    assert (len(started.jobs), len(started.requests)) == (1, 1)
    assert started_at(NOW, by=make_director(), now=NOW).jobs == ()


def test_the_parts_to_buy_are_those_the_bench_lacks_for_these_jobs(school, director):
    """A worn cork of a water key takes a new one; a bench that has plenty of corks buys none."""
    bench = make_school_bench(school)
    leaking = make_instrument(school=school)
    make_inspection(instrument=leaking, findings=[LEAKING_CORK])
    start(school, director, NOW, instruments=[leaking])
    before = started_at(NOW, by=director, now=NOW).to_buy[bench]
    make_item(bench=bench, code="water_key_corks", quantity="500")
    assert started_at(NOW, by=director, now=NOW).to_buy[bench] == before - 1
