"""What was seen and heard: one draft a purpose, a fault once in a walk, limits said in words."""

from __future__ import annotations

from datetime import timedelta

import pytest

from inventory.catalog.schema import Severity
from inventory.models import Finding, Inspection, PartLook, PlayTest, ProblemReport, Purpose
from inventory.rules.facts import FindingFact
from tests.database import refused
from tests.factories import NOW, make_inspection, make_instrument

pytestmark = pytest.mark.django_db


def begin(instrument, actor, purpose=Purpose.SPOT, **fields):
    return Inspection.objects.create(instrument=instrument, purpose=purpose, actor=actor, started_at=NOW, **fields)


def test_an_instrument_has_one_draft_a_purpose(tech):
    instrument = make_instrument()
    draft = begin(instrument, tech)
    refused(lambda: begin(instrument, tech))
    begin(instrument, tech, purpose=Purpose.YEARLY)
    Inspection.objects.filter(pk=draft.pk).update(dropped_at=NOW)
    again = begin(instrument, tech)
    assert again.is_draft
    assert set(Inspection.objects.drafts()) == {again, instrument.inspections.get(purpose=Purpose.YEARLY)}
    assert not Inspection.objects.finished().exists()


def test_a_part_is_looked_at_once(tech):
    walk = begin(make_instrument(), tech)
    PartLook.objects.create(inspection=walk, part="valve_1", looked_at=NOW)
    refused(lambda: PartLook.objects.create(inspection=walk, part="valve_1", looked_at=NOW))


def test_a_fault_is_found_once_at_a_place_in_a_walk(tech):
    walk = begin(make_instrument(), tech)
    told = {
        "inspection": walk, "instrument": walk.instrument, "part": "bell", "fault": "dent", "severity": "light",
        "found_at": NOW,
    }  # fmt: skip
    Finding.objects.create(**told)
    refused(lambda: Finding.objects.create(**told))
    Finding.objects.create(**told, place="bow")


def test_findings_stand_from_the_finish_until_something_closes_them():
    instrument = make_instrument()
    draft = make_inspection(instrument=instrument, findings=[("leadpipe", "lime_scale", "light")], finish=False)
    assert not Finding.objects.standing().exists()
    Inspection.objects.filter(pk=draft.pk).update(finished_at=NOW)
    [finding] = Finding.objects.standing()
    assert Finding.objects.standing().facts() == (
        FindingFact(part="leadpipe", fault="lime_scale", severity=Severity.LIGHT, key=str(finding.pk)),
    )
    Finding.objects.update(closed_at=NOW, closed_because="repaired")
    assert Finding.objects.standing().facts() == ()


def test_limits_are_said_in_words(tech):
    told = {"instrument": make_instrument(), "played_at": NOW, "actor": tech}
    refused(lambda: PlayTest.objects.create(result="limits", **told))
    PlayTest.objects.create(result="limits", limits_text="Not above F5.", **told)
    assert str(PlayTest.objects.create(result="pass", **told)) == "Pass 2026-09-14"


def test_reports_and_walks_are_shown_to_their_school_only(school, director, stranger):
    instrument = make_instrument(school=school)
    report = ProblemReport.objects.create(instrument=instrument, said_at=NOW, text="The slide is stuck.")
    walk = make_inspection(instrument=instrument)
    assert report in ProblemReport.objects.visible_to(director)
    assert report not in ProblemReport.objects.visible_to(stranger)
    assert walk in Inspection.objects.visible_to(director)
    assert walk not in Inspection.objects.visible_to(stranger)
    ProblemReport.objects.update(closed_at=NOW + timedelta(days=1))
    assert not ProblemReport.objects.unanswered().exists()
