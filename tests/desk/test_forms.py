"""What is typed on the desk's pages."""

from __future__ import annotations

from datetime import time

import pytest

from desk.forms import BenchDayForm, FindForm, ReportForm
from repairs.models import Bench
from tests.factories import make_bench


@pytest.mark.parametrize("text", ["", "   ", "x" * 301])
def test_nothing_and_too_much_are_refused_for_finding(text):
    assert not FindForm({"text": text}).is_valid()


@pytest.mark.parametrize("text", ["TD-0001", "  td-1 ", "\u202e1000-DT", "<b>7</b>", "x" * 300])
def test_whatever_stands_on_an_instrument_may_be_typed(text):
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
    assert set(ReportForm().fields) == {"text", "website", "nonce"}


@pytest.mark.parametrize(
    ("data", "start", "hours"),
    [
        (None, time(8, 0), 4.0),
        ({"hours": "2.5", "start": "13:15"}, time(13, 15), 2.5),
        ({"hours": "99", "start": "13:15"}, time(13, 15), 4.0),
        ({"hours": "3", "start": "late"}, time(8, 0), 3.0),
    ],
)
def test_what_makes_no_sense_for_a_day_counts_as_usual(db, data, start, hours):
    form = BenchDayForm(data, benches=Bench.objects.all(), start=time(8, 0))
    assert (form.start_time, form.hours_long, form.chosen_bench) == (start, hours, None)


def test_the_query_of_the_sheet_holds_what_the_page_shows(school):
    bench, _ = make_bench(school=school), make_bench(school=school)
    data = {"hours": "2.5", "start": "13:15", "bench": bench.code}
    form = BenchDayForm(data, benches=Bench.objects.all(), start=time(8, 0))
    assert form.query == f"start=13%3A15&hours=2.5&bench={bench.code}"
