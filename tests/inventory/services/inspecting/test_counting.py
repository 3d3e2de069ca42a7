"""Accessories counted in a walk and outside one."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.exceptions import RefusedError
from inventory.models import Closed, Finding, Instrument
from inventory.pages.inspecting import walk_page
from inventory.services.inspecting import (
    answer_safety,
    close_findings,
    count_accessories,
    finish_inspection,
    look_at_rest,
)
from tests.factories import NOW, make_inspection

LATER = NOW + timedelta(days=1)


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def test_counts_of_a_walk_are_kept_with_it_until_it_is_finished(draft, tech, instrument):
    count_accessories(instrument=instrument, counts={"case": 0}, actor=tech, at=NOW, inspection=draft)
    assert instrument.accessories.get(code="case").present is None
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert instrument.accessories.get(code="case").present == 0
    assert fresh(instrument).readiness == "stays_in"


def test_an_accessory_of_another_kind_is_refused(instrument, tech):
    with pytest.raises(RefusedError, match="Not an accessory"):
        count_accessories(instrument=instrument, counts={"bocal": 1}, actor=tech, at=NOW)


def counted_with_a_missing_mouthpiece(instrument, tech):
    draft = make_inspection(
        instrument=instrument, findings=[("mouthpiece", "missing_part", "severe")], actor=tech, finish=False
    )
    counts = {"case": 1, "mouthpiece": 1}
    count_accessories(instrument=instrument, counts=counts, actor=tech, at=NOW, inspection=draft)
    return draft


def test_what_was_found_missing_is_not_counted_as_there(instrument, tech):
    draft = counted_with_a_missing_mouthpiece(instrument, tech)
    page = walk_page(draft)
    assert {row.code: field.value() for row, field in page["accessories"]}["mouthpiece"] == 0
    assert page["is_short"]
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert dict(instrument.accessories.exclude(present=None).values_list("code", "present")) == {
        "case": 1,
        "mouthpiece": 0,
    }
    assert "accessories" not in {one["code"] for one in fresh(instrument).readiness_reasons}, "said as a finding"


def test_what_was_missing_and_is_replaced_is_there_again(instrument, tech):
    finish_inspection(inspection=counted_with_a_missing_mouthpiece(instrument, tech), actor=tech, at=NOW)
    missing = list(Finding.objects.filter(instrument=instrument).standing().values_list("pk", flat=True))
    about = {"instrument": instrument, "finding_ids": missing, "reference": "job:1", "actor": tech, "at": LATER}
    close_findings(because=Closed.REPAIRED, **about)
    assert instrument.accessories.get(code="mouthpiece").present == 1
    assert fresh(instrument).readiness != "stays_in"


@pytest.mark.parametrize(("present", "there"), [(None, 3), (0, 1), (1, 2), (2, 3), (3, 3), (4, 4)])
def test_one_repair_puts_one_back(instrument, tech, present, there):
    make_inspection(instrument=instrument, findings=[("mouthpiece", "missing_part", "severe")], actor=tech)
    instrument.accessories.filter(code="mouthpiece").update(expected=3, present=present)
    missing = list(Finding.objects.filter(instrument=instrument).standing().values_list("pk", flat=True))
    about = {"instrument": instrument, "finding_ids": missing, "reference": "job:1", "actor": tech, "at": LATER}
    close_findings(because=Closed.REPAIRED, **about)
    assert instrument.accessories.get(code="mouthpiece").present == there


def test_a_case_that_is_missing_is_still_asked_for(instrument, tech):
    """A missing case stops no note: nothing else would keep the instrument in."""
    draft = make_inspection(
        instrument=instrument, findings=[("case", "missing_part", "severe")], actor=tech, finish=False
    )
    count_accessories(instrument=instrument, counts={"case": 1}, actor=tech, at=NOW, inspection=draft)
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert "accessories" in {one["code"] for one in fresh(instrument).readiness_reasons}
