"""What is typed on the desk's pages."""

from __future__ import annotations

import pytest

from desk.forms import FindForm, ReportForm


@pytest.mark.parametrize("text", ["", "   ", "x" * 301])
def test_nothing_and_too_much_are_refused_for_finding(text):
    assert not FindForm({"text": text}).is_valid()


@pytest.mark.parametrize("text", ["TD-0001", "  td-1 ", "\u202e1000-DT", "<b>7</b>", "x" * 300])
def test_whatever_stands_on_a_horn_may_be_typed(text):
    assert FindForm({"text": text}).is_valid()


def test_a_report_needs_words():
    assert not ReportForm({"text": "  "}).is_valid()


def test_a_report_of_ten_thousand_characters_is_refused_with_a_sentence():
    form = ReportForm({"text": "x" * 10_000})
    assert not form.is_valid()
    assert "2000" in form.errors["text"][0]


def test_the_field_for_machines_may_stay_empty():
    assert ReportForm({"text": "A key hangs."}).is_valid()


def test_a_report_asks_for_no_name():
    assert set(ReportForm().fields) == {"text", "website"}
