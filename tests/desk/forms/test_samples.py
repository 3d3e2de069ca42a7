"""What may be asked of a sample."""

from __future__ import annotations

from decimal import Decimal

import pytest

from desk.forms.samples import ExamineForm, SamplePlanForm, StopSampleForm
from inventory.models import School
from inventory.services.samples import Plan

D = Decimal
SENT = {
    "tested": ["place"], "confidence": "95", "tolerable": "5", "expected": "0", "distribution": "hypergeometric",
    "strata": "none", "cuts": "500, 1000, 3000",
}  # fmt: skip


def form_of(*, has_all: bool = True, **sent: object) -> SamplePlanForm:
    return SamplePlanForm(SENT | sent, schools=School.objects.none(), has_all=has_all)


def test_percent_becomes_a_share_exactly():
    form = form_of(confidence="99.9", tolerable="2.5", expected="0.5", tested_words=" Case there ")
    assert form.is_valid(), form.errors
    assert form.plan == Plan(D("0.999"), D("0.025"), D("0.005"), ("place",), "Case there")


@pytest.mark.parametrize(
    ("typed", "cuts"),
    [("500, 1000, 3000", (500, 1000, 3000)), ("$500; $1,500", (500, 1500)), ("750 1,000.50", (750, D("1000.50")))],
)
def test_cuts_are_read_as_people_type_amounts(typed, cuts):
    form = form_of(strata="value", cuts=typed)
    assert form.is_valid(), form.errors
    assert form.plan.cuts == cuts


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"tested": []}, "tested"),
        ({"tested": ["color"]}, "tested"),
        ({"expected": "5"}, "expected"),
        ({"confidence": "100"}, "confidence"),
        ({"tolerable": "0"}, "tolerable"),
        ({"strata": "value", "cuts": ""}, "cuts"),
        ({"strata": "value", "cuts": "1000, 500"}, "cuts"),
        ({"cuts": "a lot"}, "cuts"),
        ({"cuts": "Infinity"}, "cuts"),
        ({"cuts": "1e9"}, "cuts"),
        ({"seed": "two words"}, "seed"),
    ],
)
def test_what_makes_no_plan_is_refused_beside_its_field(sent, field):
    form = form_of(**sent)
    assert not form.is_valid()
    assert list(form.errors) == [field]


def test_the_whole_district_is_for_who_has_it():
    assert "school" in form_of(has_all=False).errors
    assert "school" not in form_of().errors


def test_a_result_and_a_reason_are_chosen():
    assert ExamineForm({"result": "not_found"}).is_valid()
    assert not ExamineForm({"result": "lost"}).is_valid()
    assert StopSampleForm({"because": "time"}).is_valid()
    assert not StopSampleForm({}).is_valid()
