"""A count and a sample that are closed, and one of each under way. Common practice, no source."""

from __future__ import annotations

import pytest

from desk.demo.counted import MONTHS, begin_count, examine_samples, keep_months_over, sign_summer_count
from desk.selectors.verifying import differences
from inventory.models import CountDifference, FleetMonth, Instrument, Sample
from inventory.selectors.counts import progress_of
from inventory.selectors.samples import progress_of as progress_of_sample
from tests.desk.demo.stages import make_stage

pytestmark = [pytest.mark.django_db, pytest.mark.drill]


def test_a_count_and_a_sample_are_closed_and_one_of_each_is_half_done():
    stage = make_stage(seen=True, share=0.4)
    assert sign_summer_count(stage).signed_at is not None
    reasons = set(CountDifference.objects.values_list("reason", flat=True))
    assert {"missing", "moved_here", "goes_back", "misread"} <= reasons
    assert Instrument.objects.filter(whereabouts="not_found").count() == 1
    progress = progress_of(begin_count(stage))
    assert 0 < progress.unseen < progress.expected
    closed, under_way = examine_samples(stage)
    assert (Sample.objects.get(pk=closed.pk).is_finished, under_way.is_open) == (True, True)
    assert progress_of_sample(closed).deviations == 1
    assert 0 < progress_of_sample(under_way).left < under_way.size
    assert differences()[1] == []


def test_the_months_of_a_year_are_kept_once():
    stage = make_stage(fleet=True)
    assert keep_months_over(stage) == FleetMonth.objects.count() > MONTHS
    assert keep_months_over(stage) == 0
