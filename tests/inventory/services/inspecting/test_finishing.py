"""What a finished walk says of the instrument, part by part."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.exceptions import RefusedError
from inventory.models import Closed, Finding, Inspection, Instrument, Purpose, Unsafe
from inventory.services.inspecting import (
    answer_safety,
    finish_inspection,
    look_at_part,
    look_at_rest,
    start_inspection,
)
from tests.factories import NOW, make_inspection, make_ready_instrument
from tests.inventory.makers import make_finding

LATER = NOW + timedelta(days=1)


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def test_finishing_needs_the_safety_question_and_a_look(draft, tech):
    with pytest.raises(RefusedError, match="safe to handle"):
        finish_inspection(inspection=draft, actor=tech, at=NOW)
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    with pytest.raises(RefusedError, match="No part has been checked"):
        finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert Inspection.objects.get(pk=draft.pk).finished_at is None


def test_a_draft_changes_nothing_until_it_is_finished(draft, tech, instrument):
    make_finding(draft, tech, fault="valve_stuck", severity="severe")
    assert fresh(instrument).verdict == "not_inspected"
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finished = finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert fresh(instrument).verdict == finished.verdict != "not_inspected"
    event = Event.objects.get(act="inspected")
    assert (event.after["findings"], event.after["verdict"]) == (1, finished.verdict)


def test_a_part_looked_at_replaces_what_was_known_and_others_stay(instrument, tech):
    make_inspection(
        instrument=instrument,
        findings=[("piston", "valve_sluggish", "moderate", "2"), ("bell", "dent_small", "light")],
        actor=tech,
    )
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=LATER)
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=LATER)
    look_at_part(inspection=draft, part="piston", actor=tech, at=LATER)
    finish_inspection(inspection=draft, actor=tech, at=LATER)
    standing = Finding.objects.filter(instrument=instrument).standing()
    assert [finding.part for finding in standing] == ["bell"]
    assert Finding.objects.get(part="piston").closed_because == Closed.NOT_SEEN


def test_a_fault_seen_again_stands_once(instrument, tech):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    make_inspection(
        instrument=instrument,
        findings=[("bell", "dent_small", "moderate")],
        actor=tech,
        purpose=Purpose.YEARLY,
        at=LATER,
    )
    assert Finding.objects.filter(instrument=instrument).standing().get().severity == "moderate"
    assert Finding.objects.get(severity="light").closed_because == Closed.SEEN_AGAIN


@pytest.mark.parametrize("unsafe", Unsafe)
@pytest.mark.parametrize("kind_code", ["trumpet", "clarinet_bb", "snare_kit", "timpani_set"])
def test_not_safe_to_handle_holds_it_apart(school, tech, kind_code, unsafe):
    instrument = make_ready_instrument(school=school, kind_code=kind_code)
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=LATER)
    answer_safety(inspection=draft, is_safe=False, actor=tech, at=LATER, unsafe=unsafe, because="No mold to be seen")
    finish_inspection(inspection=draft, actor=tech, at=LATER)
    held = fresh(instrument)
    assert (held.verdict, held.readiness) == ("does_not_play", "stays_in")
    finding = Finding.objects.filter(instrument=instrument).standing().get()
    assert finding.note == "No mold to be seen"
    assert finding.fault == ("odor_mold" if unsafe == "mold" else "unsafe_to_handle")
