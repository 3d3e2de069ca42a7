from __future__ import annotations

from inventory.catalog.load import catalog
from repairs.forms.findings import FindingForm

TRUMPET = catalog().kinds["trumpet"]


def test_faults_are_those_of_the_parts_role_most_likely_first():
    slide = TRUMPET.part("third_valve_slide")
    lines = FindingForm(part=slide).lines()
    assert [line["code"] for line in lines] == list(catalog().roles[slide.role].faults)
    assert [value for value, _, _ in lines[0]["severities"]] == ["light", "moderate", "severe"]
    assert all(words for _, _, words in lines[0]["severities"])


def test_a_part_with_places_asks_which_one():
    assert "place" in FindingForm(part=TRUMPET.part("piston")).fields
    assert "place" not in FindingForm(part=TRUMPET.part("third_valve_slide")).fields


def test_a_fault_alone_is_not_enough():
    form = FindingForm({"fault": "slide_seized"}, part=TRUMPET.part("third_valve_slide"))
    assert form.errors["severity"] == ["Choose how bad it is: light, moderate or severe."]
