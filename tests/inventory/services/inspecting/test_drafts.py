"""Taps on a draft: each is kept at once, changes nothing outside, and what does not fit writes nothing."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from core.models import Event, PostedForm
from inventory.exceptions import InspectionClosedError, RefusedError
from inventory.models import Finding, Purpose
from inventory.services.inspecting import (
    answer_safety,
    count_accessories,
    drop_inspection,
    finish_inspection,
    look_at_part,
    look_at_rest,
    record_findings,
    remove_finding,
    start_inspection,
    take_tap,
)
from tests.factories import NOW, make_inspection, make_instrument
from tests.inventory.makers import make_finding

LATER = NOW + timedelta(days=1)


def test_starting_twice_takes_up_the_same_draft(draft, instrument, director):
    again = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=director, at=LATER)
    assert again.pk == draft.pk
    other = start_inspection(instrument=instrument, purpose=Purpose.YEARLY, actor=director, at=LATER)
    assert other.pk != draft.pk


def test_the_same_fault_at_the_same_place_again_changes_its_severity(draft, tech):
    make_finding(draft, tech)
    make_finding(draft, tech, severity="severe", note="worse than it looked")
    finding = draft.findings.get()
    assert (finding.severity, finding.note) == ("severe", "worse than it looked")


def test_two_places_of_one_part_are_two_findings(draft, tech):
    make_finding(draft, tech, place="1")
    make_finding(draft, tech, place="2")
    assert draft.findings.count() == 2


def test_fine_after_all_takes_the_findings_of_the_part_back(draft, tech):
    make_finding(draft, tech)
    look_at_part(inspection=draft, part="piston", actor=tech, at=NOW)
    assert not draft.findings.exists()
    assert draft.looks.get().part == "piston"


def test_a_finding_takes_fine_back(draft, tech):
    look_at_part(inspection=draft, part="piston", actor=tech, at=NOW)
    make_finding(draft, tech)
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
        make_finding(draft, tech, **wrong)
    assert not draft.findings.exists()


def test_all_fine_from_here_begins_here_and_leaves_findings_alone(draft, tech, instrument):
    codes = [part.code for part in instrument.parts]
    make_finding(draft, tech)
    seen = look_at_rest(inspection=draft, actor=tech, at=NOW, after_part=codes[10])
    assert seen == len(codes) - 10 - 1
    assert set(draft.looks.values_list("part", flat=True)) == set(codes[10:]) - {"piston"}
    assert look_at_rest(inspection=draft, actor=tech, at=NOW, after_part=codes[10]) == 0


def test_a_finding_taken_back_is_gone(draft, tech):
    remove_finding(finding=make_finding(draft, tech), actor=tech)
    assert not draft.findings.exists()


def test_nothing_can_be_entered_once_it_is_finished(draft, tech, instrument):
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    before = Event.objects.count()
    acts = (
        lambda: make_finding(draft, tech),
        lambda: look_at_part(inspection=draft, part="piston", actor=tech, at=NOW),
        lambda: look_at_rest(inspection=draft, actor=tech, at=NOW),
        lambda: answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW),
        lambda: finish_inspection(inspection=draft, actor=tech, at=NOW),
        lambda: drop_inspection(inspection=draft, actor=tech, at=NOW),
        lambda: count_accessories(instrument=instrument, counts={}, actor=tech, at=NOW, inspection=draft),
    )
    for act in acts:
        with pytest.raises(InspectionClosedError, match="already finished"):
            act()
    assert Event.objects.count() == before
    assert not draft.findings.exists()


def test_a_walk_given_up_leaves_what_stood(instrument, tech):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=LATER)
    look_at_part(inspection=draft, part="bell", actor=tech, at=LATER)
    drop_inspection(inspection=draft, actor=tech, at=LATER)
    assert Finding.objects.filter(instrument=instrument).standing().count() == 1
    assert start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=LATER).pk != draft.pk


def test_of_drums_in_a_set_the_one_is_named(school, tech):
    draft = start_inspection(
        instrument=make_instrument(school=school, kind_code="timpani_set"), purpose="spot", actor=tech, at=NOW
    )
    told = {"inspection": draft, "part": "head", "fault": "head_worn", "severity": "severe", "actor": tech, "at": NOW}
    with pytest.raises(RefusedError, match="Say which: 32 inch drum, 29 inch drum"):
        record_findings(**told, places=[])
    assert not draft.findings.exists()
    record_findings(**told, places=["32"])
    assert draft.findings.get().place == "32"


def test_a_tap_sent_twice_is_done_once(draft, tech):
    done = []
    key = uuid4()
    for times in (1, 2):
        take_tap(inspection=draft, key=key, actor=tech, at=NOW, act=lambda times=times: done.append(times))
    assert done == [1]


def test_a_tap_without_a_key_is_done_each_time(draft, tech):
    done = []
    for _ in range(2):
        take_tap(inspection=draft, key=None, actor=tech, at=NOW, act=lambda: done.append(1))
    assert done == [1, 1]
    assert not PostedForm.objects.exists()


def test_a_refused_tap_leaves_no_key_behind(draft, tech):
    key = uuid4()
    with pytest.raises(RefusedError):
        take_tap(
            inspection=draft,
            key=key,
            actor=tech,
            at=NOW,
            act=lambda: look_at_part(inspection=draft, part="no_such_part", actor=tech, at=NOW),
        )
    assert not PostedForm.objects.exists()
    take_tap(inspection=draft, key=key, actor=tech, at=NOW, act=lambda: None)
    assert PostedForm.objects.get().key == str(key)
