from __future__ import annotations

from inventory.models import Inspection, Purpose
from inventory.selectors.inspecting import (
    begun_purposes,
    instrument_now,
    newest_finished,
    newest_hand_out,
    walk_rows,
)
from inventory.services.inspecting import look_at_part, record_finding, start_inspection
from tests.factories import NOW, make_inspection, make_ready_instrument


def test_a_walk_is_read_with_what_was_known_before_it(instrument, tech, django_assert_num_queries):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)
    look_at_part(inspection=draft, part="leadpipe", actor=tech, at=NOW)
    record_finding(
        inspection=draft, part="piston", fault="valve_stuck", severity="severe", place="2", actor=tech, at=NOW
    )
    draft = Inspection.objects.select_related("instrument", "compared_with").get(pk=draft.pk)
    with django_assert_num_queries(5):
        rows = walk_rows(draft)
    assert [finding.fault for finding in rows.findings] == ["valve_stuck"]
    assert [finding.fault for finding in rows.before] == ["dent_small"]
    assert rows.checked == {"leadpipe"}
    assert list(rows.accessories) == list(instrument.accessories.all())


def test_a_walk_compared_with_another_is_read_with_the_findings_of_that(instrument, tech):
    out = make_inspection(
        instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech, purpose=Purpose.HAND_OUT
    )
    assert newest_hand_out(instrument) == out
    draft = start_inspection(instrument=instrument, purpose=Purpose.RETURN, actor=tech, at=NOW, compared_with=out)
    assert [finding.inspection_id for finding in walk_rows(draft).before] == [out.pk]


def test_open_walks_and_the_newest_finished_one_are_told_apart(school, tech):
    ready = make_ready_instrument(school=school)
    before = newest_finished(ready)
    start_inspection(instrument=ready, purpose=Purpose.YEARLY, actor=tech, at=NOW)
    assert begun_purposes(ready) == {"yearly"}
    assert newest_finished(ready) == before
    assert instrument_now(before) == ready
