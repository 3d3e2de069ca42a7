from __future__ import annotations

import pytest

from inventory.forms.figures import FigureForm
from inventory.selectors.figures import rules
from tests.factories import TODAY


def form(key, holds, **data):
    return FigureForm(data or None, rule=rules()[key], value=holds, today=TODAY)


@pytest.mark.parametrize(
    ("key", "value", "stands"),
    [
        ("repair_limit", "0.55", "55"),
        ("bench_rate_amount", "42.5", "42.5"),
        ("time_zone", "America/Denver", "America/Denver"),
        ("approver_is_another", "1", "1"),
        ("school_year_ends", "05-29", "05-29"),
    ],
)
def test_the_field_begins_with_what_holds(key, value, stands):
    assert form(key, value).fields["value"].initial == stands


def test_unit_and_range_stand_beside_the_field():
    html = str(form("repair_limit", "0.5"))
    assert "% of replacement value, 10 to 100" in html
    assert 'min="2026-09-14"' in html


def test_a_day_of_every_year_is_a_month_and_a_day():
    html = str(form("school_year_ends", "05-29"))
    assert '<option value="5" selected>May</option>' in html
    assert '<option value="29" selected>29</option>' in html
    sent = form("school_year_ends", "05-29", value_month="6", value_day="12", effective_on="2026-09-14")
    assert sent.is_valid()
    assert sent.cleaned_data["value"] == "6-12"


@pytest.mark.parametrize(
    ("key", "left"),
    [
        ("repair_limit", {"value": ""}),
        ("repair_limit", {"value": "9"}),
        ("school_year_ends", {"value_month": "", "value_day": ""}),
        ("time_zone", {}),
    ],
)
def test_the_default_comes_back_whatever_is_left_in_the_field(key, left):
    sent = form(key, rules()[key].default, effective_on="2026-09-14", default="1", **left)
    assert sent.is_valid()
    assert sent.cleaned_data["value"] == ""


@pytest.mark.parametrize(
    ("key", "typed", "says"),
    [
        ("repair_limit", {"value": "9"}, "Enter a number from 10 to 100."),
        ("repair_limit", {"value": ""}, "This field is required."),
        ("school_year_ends", {"value_month": "2", "value_day": "31"}, "That month does not have that day."),
        ("school_year_ends", {"value_month": "2"}, "This field is required."),
        ("approver_is_another", {"value": "2"}, "Select a valid choice. 2 is not one of the available choices."),
    ],
)
def test_what_is_refused_says_what_is_accepted(key, typed, says):
    refused = form(key, rules()[key].default, effective_on="2026-09-14", **typed)
    assert refused.errors == {"value": [says]}
