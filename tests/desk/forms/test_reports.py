from __future__ import annotations

from desk.forms.reports import ReportForm


def test_a_report_needs_words():
    assert not ReportForm({"text": "  "}).is_valid()


def test_a_report_of_ten_thousand_characters_is_refused_with_a_sentence():
    form = ReportForm({"text": "x" * 10_000})
    assert not form.is_valid()
    assert "2000" in form.errors["text"][0]


def test_the_field_for_machines_may_stay_empty():
    assert ReportForm({"text": "A key hangs."}).is_valid()


def test_a_report_asks_for_no_name():
    assert set(ReportForm().fields) == {"text", "website", "nonce"}
