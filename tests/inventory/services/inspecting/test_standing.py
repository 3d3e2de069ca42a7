"""Standing findings: carried over, added at the bench, closed."""

from __future__ import annotations

from datetime import timedelta

from inventory.models import Finding, Inspection, Instrument, Purpose
from inventory.services.inspecting import (
    add_bench_finding,
    carry_over_inspection,
    close_findings,
)
from tests.factories import NOW, make_inspection

LATER = NOW + timedelta(days=1)


def fresh(instrument: Instrument) -> Instrument:
    return Instrument.objects.get(pk=instrument.pk)


def test_carried_over_holds_what_stands_and_counts_as_seen(instrument, tech):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    draft = carry_over_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=tech, at=LATER)
    assert draft.findings.get().fault == "dent_small"
    assert draft.looks.count() == len(instrument.parts) - 1
    assert Inspection.objects.get(pk=draft.pk).is_safe is True


def test_closing_findings_follows_with_the_verdict_and_counts_once(instrument, tech):
    make_inspection(instrument=instrument, findings=[("piston", "valve_stuck", "severe", "2", "up")], actor=tech)
    assert fresh(instrument).verdict != "plays"
    ids = list(Finding.objects.filter(instrument=instrument).values_list("pk", flat=True))
    close = {"instrument": instrument, "finding_ids": ids, "because": "repaired", "reference": "attempt:1"}
    assert close_findings(**close, actor=tech, at=LATER) == 1
    assert close_findings(**close, actor=tech, at=LATER) == 0
    assert fresh(instrument).verdict == "plays"


def test_something_new_on_the_bench_leaves_what_stands_as_it_was_found(instrument, tech):
    make_inspection(
        instrument=instrument, findings=[("bell", "dent_small", "light"), ("piston", "valve_sluggish", "light", "2")],
        actor=tech,
    )  # fmt: skip
    add_bench_finding(instrument=instrument, part="bell", fault="crease", severity="moderate", actor=tech, at=LATER)
    standing = Finding.objects.filter(instrument=instrument).standing()
    assert set(standing.values_list("part", "fault", "found_at")) == {
        ("bell", "dent_small", NOW), ("bell", "crease", LATER), ("piston", "valve_sluggish", NOW),
    }  # fmt: skip


def test_the_same_fault_seen_again_on_the_bench_stands_once_and_as_bad_as_it_is_now(instrument, tech):
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    add_bench_finding(instrument=instrument, part="bell", fault="dent_small", severity="moderate", actor=tech, at=LATER)
    assert Finding.objects.filter(instrument=instrument).standing().get().severity == "moderate"
