from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.exceptions import InspectionClosedError, RefusedError
from inventory.models import Closed, Finding, Inspection, Instrument, Purpose
from inventory.services.inspecting import (
    answer_safety,
    carry_over_inspection,
    close_findings,
    count_accessories,
    drop_inspection,
    finish_inspection,
    look_at_part,
    look_at_rest,
    record_finding,
    start_inspection,
    take_back_finding,
)
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument

LATER = NOW + timedelta(days=1)


@pytest.fixture
def instrument(school):
    return make_instrument(school=school)


@pytest.fixture
def draft(instrument, tech):
    return start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def find(draft, tech, **overrides):
    fields = {"part": "piston", "fault": "valve_sluggish", "severity": "moderate", "place": "2"} | overrides
    return record_finding(inspection=draft, actor=tech, at=NOW, **fields)


def test_starting_twice_takes_up_the_same_draft(draft, instrument, director):
    again = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=director, at=LATER)
    assert again.pk == draft.pk
    other = start_inspection(instrument=instrument, purpose=Purpose.YEARLY, actor=director, at=LATER)
    assert other.pk != draft.pk


def test_the_same_fault_at_the_same_place_again_changes_its_severity(draft, tech):
    find(draft, tech)
    find(draft, tech, severity="severe", note="worse than it looked")
    finding = draft.findings.get()
    assert (finding.severity, finding.note) == ("severe", "worse than it looked")


def test_two_places_of_one_part_are_two_findings(draft, tech):
    find(draft, tech, place="1")
    find(draft, tech, place="2")
    assert draft.findings.count() == 2


def test_fine_after_all_takes_the_findings_of_the_part_back(draft, tech):
    find(draft, tech)
    look_at_part(inspection=draft, part="piston", actor=tech, at=NOW)
    assert not draft.findings.exists()
    assert draft.looks.get().part == "piston"


def test_a_finding_takes_fine_back(draft, tech):
    look_at_part(inspection=draft, part="piston", actor=tech, at=NOW)
    find(draft, tech)
    assert not draft.looks.exists()


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"part": "reed"}, "no part called reed"),
        ({"fault": "pad_leak"}, "does not fit"),
        ({"place": "9"}, "no place called 9"),
        ({"severity": "awful"}, "light, moderate or severe"),
    ],
)
def test_what_does_not_fit_is_refused_and_nothing_is_written(draft, tech, wrong, says):
    with pytest.raises(RefusedError, match=says):
        find(draft, tech, **wrong)
    assert not draft.findings.exists()


def test_all_fine_from_here_begins_here_and_leaves_findings_alone(draft, tech, instrument):
    codes = [part.code for part in instrument.parts]
    find(draft, tech)
    seen = look_at_rest(inspection=draft, actor=tech, at=NOW, after_part=codes[10])
    assert seen == len(codes) - 10 - 1
    assert set(draft.looks.values_list("part", flat=True)) == set(codes[10:]) - {"piston"}
    assert look_at_rest(inspection=draft, actor=tech, at=NOW, after_part=codes[10]) == 0


def test_a_finding_taken_back_is_gone(draft, tech):
    take_back_finding(finding=find(draft, tech), actor=tech)
    assert not draft.findings.exists()


def test_finishing_needs_the_safety_question_and_a_look(draft, tech):
    with pytest.raises(RefusedError, match="safe to handle"):
        finish_inspection(inspection=draft, actor=tech, at=NOW)
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    with pytest.raises(RefusedError, match="No part has been looked at"):
        finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert Inspection.objects.get(pk=draft.pk).finished_at is None


def test_a_draft_changes_nothing_until_it_is_finished(draft, tech, instrument):
    find(draft, tech, fault="valve_stuck", severity="severe")
    assert fresh(instrument).verdict == "not_inspected"
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finished = finish_inspection(inspection=draft, actor=tech, at=NOW)
    assert fresh(instrument).verdict == finished.verdict != "not_inspected"
    event = Event.objects.get(act="inspected")
    assert (event.after["findings"], event.after["verdict"]) == (1, finished.verdict)


def test_nothing_can_be_entered_once_it_is_finished(draft, tech, instrument):
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    before = Event.objects.count()
    acts = (
        lambda: find(draft, tech),
        lambda: look_at_part(inspection=draft, part="piston", actor=tech, at=NOW),
        lambda: look_at_rest(inspection=draft, actor=tech, at=NOW),
        lambda: answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW),
        lambda: finish_inspection(inspection=draft, actor=tech, at=NOW),
        lambda: drop_inspection(inspection=draft, actor=tech, at=NOW),
        lambda: count_accessories(instrument=instrument, counts={}, actor=tech, at=NOW, inspection=draft),
    )
    for act in acts:
        with pytest.raises(InspectionClosedError, match="finished already"):
            act()
    assert Event.objects.count() == before
    assert not draft.findings.exists()


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


@pytest.mark.parametrize(
    "because", ["Mold or strong smell", "Sharp edge or torn metal", "Lead, or dust that may be lead"]
)
@pytest.mark.parametrize("kind_code", ["trumpet", "clarinet_bb", "snare_kit", "timpani_set"])
def test_not_safe_to_handle_holds_it_apart(school, tech, kind_code, because):
    instrument = make_ready_instrument(school=school, kind_code=kind_code)
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=LATER)
    answer_safety(inspection=draft, is_safe=False, actor=tech, at=LATER, because=because)
    finish_inspection(inspection=draft, actor=tech, at=LATER)
    held = fresh(instrument)
    assert (held.verdict, held.readiness) == ("does_not_play", "stays_in")
    finding = Finding.objects.filter(instrument=instrument).standing().get()
    assert finding.note == because
    assert finding.fault == ("odor_mold" if "Mold" in because else "unsafe_to_handle")


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


def test_carried_over_holds_what_stands_and_counts_as_seen(instrument, tech):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    draft = carry_over_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=tech, at=LATER)
    assert draft.findings.get().fault == "dent_small"
    assert draft.looks.count() == len(instrument.parts) - 1
    assert Inspection.objects.get(pk=draft.pk).is_safe is True


def test_a_walk_given_up_leaves_what_stood(instrument, tech):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=LATER)
    look_at_part(inspection=draft, part="bell", actor=tech, at=LATER)
    drop_inspection(inspection=draft, actor=tech, at=LATER)
    assert Finding.objects.filter(instrument=instrument).standing().count() == 1
    assert start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=LATER).pk != draft.pk


def test_closing_findings_follows_with_the_verdict_and_counts_once(instrument, tech):
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "2", "up")], actor=tech)
    assert fresh(instrument).verdict != "plays"
    ids = list(Finding.objects.filter(instrument=instrument).values_list("pk", flat=True))
    close = {"instrument": instrument, "finding_ids": ids, "because": "repaired", "reference": "attempt:1"}
    assert close_findings(**close, actor=tech, at=LATER) == 1
    assert close_findings(**close, actor=tech, at=LATER) == 0
    assert fresh(instrument).verdict == "plays"
