"""What is chosen and typed in a count."""

from __future__ import annotations

import pytest

from desk.forms.counting import OpenCountForm, SettleForm, SightingForm
from inventory.models import School
from inventory.rules.counting import REASONS, Outcome, Reason
from inventory.selectors.counts import Difference


def missing(number):
    return Difference(f"line:{number}", Outcome.NOT_FOUND, REASONS[Outcome.NOT_FOUND], None)


def test_a_school_is_chosen_where_there_are_several():
    schools = [School(pk=1, name="A"), School(pk=2, name="B")]
    assert not OpenCountForm({}, schools=schools).is_valid()
    form = OpenCountForm({"schools": ["2"]}, schools=schools)
    assert form.is_valid()
    assert form.chosen_schools() == schools[1:]


@pytest.mark.parametrize(
    ("data", "is_valid"), [({"text": ""}, False), ({"text": "x" * 301}, False), ({"text": "7"}, True)]
)
def test_something_is_scanned(data, is_valid):
    assert SightingForm(data, rooms=[], is_whole=True).is_valid() is is_valid


def test_one_reason_for_all_holds_where_none_is_chosen():
    form = SettleForm(
        {"all-not_found": "missing", "reason-line:2": "entered_twice"}, differences=[missing(1), missing(2)], seconds=[]
    )
    form.is_valid()
    assert not any(name.startswith("reason-") for name in form.errors)
    assert {key: one.reason for key, one in form.settled().items()} == {
        "line:1": Reason.MISSING, "line:2": Reason.ENTERED_TWICE,
    }  # fmt: skip


def test_a_reason_is_needed_for_each_and_a_password():
    form = SettleForm({}, differences=[missing(1)], seconds=[])
    assert {"reason-line:1", "second", "password"} <= form.errors.keys()
