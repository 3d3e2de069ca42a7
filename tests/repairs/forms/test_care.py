"""What narrows the list of care, and what is typed when it was done."""

from __future__ import annotations

import pytest

from inventory.models import Instrument, School
from repairs.forms.care import CareDoneForm, CareFilterForm
from tests.factories import TODAY, make_ready_instrument, make_school


def test_a_school_and_a_kind_are_chosen_and_nonsense_counts_as_not_given(school):
    make_school()

    def chosen(**data: str) -> dict[str, object]:
        return CareFilterForm(data, schools=School.objects.all()).chosen()

    assert chosen(kind="flute") == {"school": None, "kind": "flute"}
    assert chosen(school=school.code) == {"school": school, "kind": ""}
    assert chosen(school="NOWHERE", kind="kazoo") == {"school": None, "kind": ""}


def test_the_kinds_on_offer_are_those_that_are_there(school):
    form = CareFilterForm({}, schools=School.objects.all())
    form.offer({"flute", "trumpet"})
    assert [code for code, _ in form.fields["kind"].choices] == ["", "flute", "trumpet"]


def test_with_one_school_nobody_is_asked_for_it(school):
    assert "school" not in CareFilterForm({}, schools=School.objects.filter(pk=school.pk)).fields


@pytest.mark.parametrize("day", ["", "soon", "2026-02-30", "9" * 10_000])
def test_a_day_that_is_none_is_refused(school, day):
    instrument = make_ready_instrument(school=school)
    form = CareDoneForm(
        {"code": "bath", "instruments": [instrument.pk], "done_on": day},
        instruments=Instrument.objects.all(),
        today=TODAY,
    )
    assert "done_on" in form.errors


def test_an_instrument_of_another_set_cannot_be_ticked(school):
    other = make_ready_instrument(school=make_school())
    mine = Instrument.objects.filter(school=school)
    form = CareDoneForm(
        {"code": "bath", "instruments": [other.pk], "done_on": "2026-09-14"}, instruments=mine, today=TODAY
    )
    assert "instruments" in form.errors
