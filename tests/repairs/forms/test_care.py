"""What narrows the list of care, and what is typed when it was done."""

from __future__ import annotations

import pytest

from inventory.models import Instrument, School
from repairs.forms.care import CareDoneForm, CareFilterForm
from tests.factories import TODAY, make_ready_instrument, make_school


def test_a_school_and_a_kind_narrow_the_list_and_nonsense_does_not(school):
    horn, flute = make_ready_instrument(school=school), make_ready_instrument(school=school, kind_code="flute")
    other = make_ready_instrument(school=make_school())
    kinds = ["trumpet", "flute"]
    schools, rows = School.objects.all(), Instrument.objects.order_by("pk")

    def narrowed(**data: str) -> list[int]:
        return list(CareFilterForm(data, schools=schools, kinds=kinds).narrow(rows).values_list("pk", flat=True))

    assert narrowed(kind="flute") == [flute.pk]
    assert narrowed(school=school.code) == [horn.pk, flute.pk]
    assert narrowed(school="NOWHERE", kind="kazoo") == [horn.pk, flute.pk, other.pk]


def test_with_one_school_nobody_is_asked_for_it(school):
    assert "school" not in CareFilterForm({}, schools=School.objects.filter(pk=school.pk), kinds=[]).fields


@pytest.mark.parametrize("day", ["", "soon", "2026-02-30", "9" * 10_000])
def test_a_day_that_is_none_is_refused(school, day):
    horn = make_ready_instrument(school=school)
    form = CareDoneForm(
        {"code": "bath", "horns": [horn.pk], "done_on": day}, horns=Instrument.objects.all(), today=TODAY
    )
    assert "done_on" in form.errors


def test_a_horn_of_another_set_cannot_be_ticked(school):
    other = make_ready_instrument(school=make_school())
    mine = Instrument.objects.filter(school=school)
    form = CareDoneForm({"code": "bath", "horns": [other.pk], "done_on": "2026-09-14"}, horns=mine, today=TODAY)
    assert "horns" in form.errors
