"""What a sample's rows say of themselves."""

from __future__ import annotations

from inventory.models import Sample, SampleItem
from tests.factories import NOW


def test_a_sample_is_open_until_it_is_finished_or_stopped():
    sample = Sample(pk=4, population=20, distribution="hypergeometric")
    assert (str(sample), sample.is_open, sample.is_finished, sample.fleet) == ("sample 4", True, False, 20)
    sample.closed_at, sample.distribution = NOW, "binomial"
    assert (sample.is_open, sample.is_finished, sample.fleet) == (False, True, None)
    sample.stopped_because = "time"
    assert not sample.is_finished


def test_what_is_not_found_deviates_too():
    said = {result: SampleItem(number="T-1", result=result).deviates for result in ("", *SampleItem.Result.values)}
    assert said == {"": False, "as_recorded": False, "deviates": True, "not_found": True}
    assert str(SampleItem(number="T-1")) == "T-1"
