from __future__ import annotations

from inventory.catalog.load import catalog
from repairs.forms.findings import FindingForm
from tests.factories import new_nonce

TRUMPET = catalog().kinds["trumpet"]


def test_faults_are_those_offered_at_the_part_most_likely_first():
    slide = TRUMPET.part("third_valve_slide")
    lines = FindingForm(part=slide).lines()
    assert [line["code"] for line in lines] == list(catalog().faults_offered(slide))
    assert "slide_stop_missing" in {line["code"] for line in lines}  # of this part, not of its role
    assert [value for value, _, _ in lines[0]["severities"]] == ["light", "moderate", "severe"]
    assert all(words for _, _, words in lines[0]["severities"])


def test_a_fault_that_is_no_longer_offered_is_still_taken():
    braces = TRUMPET.part("braces_and_finger_hooks")
    form = FindingForm({"fault": "missing_part", "severity": "light", "nonce": new_nonce()}, part=braces)
    assert "fault" not in form.errors
    assert "missing_part" not in {line["code"] for line in form.lines()}


def test_a_part_with_places_asks_which_one():
    assert "place" in FindingForm(part=TRUMPET.part("piston")).fields
    assert "place" not in FindingForm(part=TRUMPET.part("third_valve_slide")).fields


def test_a_fault_alone_is_not_enough():
    form = FindingForm({"fault": "slide_seized"}, part=TRUMPET.part("third_valve_slide"))
    assert form.errors["severity"] == ["Choose how bad it is: light, moderate or severe."]
