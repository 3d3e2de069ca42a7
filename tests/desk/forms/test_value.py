from __future__ import annotations

from datetime import date, timedelta

from desk.forms.value import FiscalYearForm, ValueForm
from inventory.selectors.past import AsOf
from tests.factories import TODAY


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
