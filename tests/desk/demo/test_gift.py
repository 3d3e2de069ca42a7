"""What came from the loft, and work on the bench."""

from __future__ import annotations

import pytest

from desk.demo.gift import register_gift, start_jobs
from inventory.models import Donation, Instrument
from repairs.models import Attempt, Job
from tests.desk.demo.stages import make_stage


@pytest.fixture
def gift(db):
    stage = make_stage(peopled=True)
    return stage, register_gift(stage)


def test_six_instruments_came_each_with_its_donor(gift):
    _, came = gift
    kinds = [instrument.kind_code for instrument in came]
    assert kinds == ["euphonium", "clarinet_bb", "clarinet_bb", "bassoon", "bell_kit", "flute"]
    assert Donation.objects.count() == 6


def test_each_is_in_other_trouble_and_the_flute_is_not_inspected_yet(gift):
    _, came = gift
    now = [Instrument.objects.get(pk=instrument.pk) for instrument in came]
    assert now[0].verdict not in {"plays", "not_inspected"}  # its second valve is stuck
    assert now[0].limits
    assert now[-1].verdict == "not_inspected"
    assert len({tuple(instrument.limits) for instrument in now}) >= 4


def test_the_euphonium_is_on_the_bench_a_few_steps_in(gift):
    stage, came = gift
    start_jobs(stage, came)
    job = Job.objects.open().get(instrument=came[0])
    assert Attempt.objects.filter(job=job).count() == 3
    assert Instrument.objects.get(pk=came[0].pk).whereabouts == "on_bench"
