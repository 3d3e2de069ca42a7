from __future__ import annotations

import pytest
from django.http import QueryDict

from inventory.forms.inspecting import CountsForm, FindingForm, SafetyForm
from inventory.models import Accessory

EXPECTED = [Accessory(code="case", name="case"), Accessory(code="reed", name="reeds", expected=3)]


def finding_form(**fields: str) -> FindingForm:
    data = QueryDict(mutable=True)
    data.update({"part": "piston", "fault": "valve_stuck", "severity": "severe"} | fields)
    return FindingForm(data)


def test_only_the_detail_of_the_chosen_fault_counts():
    form = finding_form(**{"detail-valve_stuck": "down", "detail-slide_seized": "pulled 5 mm"})
    assert form.is_valid()
    assert form.cleaned_data["detail"] == "down"


def test_a_detail_too_long_for_its_column_is_cut():
    form = finding_form(**{"detail-valve_stuck": "x" * 400})
    assert form.is_valid()
    assert len(form.cleaned_data["detail"]) == 40


def test_several_places_are_taken():
    data = QueryDict("part=pads&fault=pad_leak&severity=light&place=a&place=b")
    form = FindingForm(data)
    assert form.is_valid()
    assert form.cleaned_data["place"] == ["a", "b"]


def test_the_first_complaint_is_a_sentence():
    assert finding_form(severity="").sentence == "Choose how bad it is: light, moderate or severe."
    assert finding_form().sentence == ""


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"is_safe": "1"}, ""),
        ({"is_safe": "0", "because": "mold"}, "Mold or strong smell"),
        ({"is_safe": "0", "because": "other", "more": " nails "}, "Something else: nails"),
    ],
)
def test_what_is_unsafe_is_said_with_more_of_it(told, said):
    form = SafetyForm(told)
    assert form.is_valid()
    assert form.cleaned_data["reason"] == said


@pytest.mark.parametrize("told", [{}, {"is_safe": "0"}, {"is_safe": "maybe"}])
def test_no_answer_or_no_reason_is_refused(told):
    assert SafetyForm(told).sentence


def test_all_there_counts_everything_and_numbers_count_what_they_name():
    every = CountsForm({"all": "1", "count-reed": "0"}, accessories=EXPECTED, counts={})
    assert every.is_valid()
    assert every.counts == {"case": 1, "reed": 3}
    some = CountsForm({"count-reed": "0"}, accessories=EXPECTED, counts={})
    assert some.is_valid()
    assert some.counts == {"reed": 0}


@pytest.mark.parametrize("told", [{}, {"count-case": "-1"}, {"count-case": "many"}, {"count-case": "1000"}])
def test_no_count_or_no_number_is_refused(told):
    assert not CountsForm(told, accessories=EXPECTED, counts={}).is_valid()
