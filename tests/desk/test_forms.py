"""What is typed on the desk's pages."""

from __future__ import annotations

from datetime import date, time, timedelta

import pytest

from desk.forms import BenchDayForm, FindForm, FiscalYearForm, ReportForm, ValueForm
from inventory.selectors.past import AsOf
from repairs.models import Bench
from tests.factories import TODAY, make_bench


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


# Value of the fleet


def test_a_value_is_asked_of_today_unless_a_day_is_given():
    assert ValueForm({}, today=TODAY).as_of() == AsOf(TODAY)
    assert ValueForm({"on": "", "known_on": ""}, today=TODAY).as_of() == AsOf(TODAY)
    asked = ValueForm({"on": "2027-06-30", "known_on": "2026-01-02"}, today=TODAY)
    assert asked.as_of() == AsOf(date(2027, 6, 30), date(2026, 1, 2))


def test_what_nobody_can_know_is_refused_beside_its_field():
    form = ValueForm({"on": "1899-12-31", "known_on": (TODAY + timedelta(days=1)).isoformat()}, today=TODAY)
    assert set(form.errors) == {"on", "known_on"}
    assert form.as_of() == AsOf(TODAY)


def test_an_unknown_fiscal_year_is_the_first_offered():
    years = [("2026-07-01", "this"), ("2025-07-01", "last")]
    assert [FiscalYearForm(data, years=years).first for data in ({}, {"year": "x"}, {"year": "2025-07-01"})] == [
        date(2026, 7, 1), date(2026, 7, 1), date(2025, 7, 1),
    ]  # fmt: skip
