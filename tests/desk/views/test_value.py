"""The value pages: who sees which schools, what is asked, and the files."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal

import pypdfium2
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from core.models import Event
from inventory.services.registering import change_instrument
from tests.factories import NOW, make_instrument, make_school

pytestmark = [pytest.mark.django_db, pytest.mark.page]

URL = reverse("desk:value")
YEAR_END = "?on=2026-06-30"


def make_old(**fields):
    given = {"acquired_on": date(2018, 7, 1), "acquisition_cost_amount": Decimal(750), "year_made": 2018}
    return make_instrument(**(given | fields))


def rows_of(response):
    text = b"".join(response.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def get_file(client, what: str, form: str = "csv", query: str = YEAR_END):
    return client.get(reverse("desk:value-export", args=[what, form]) + query)


def test_the_page_shows_sums_by_school_and_kind(client, auditor, school):
    make_old(school=school)
    client.force_login(auditor)
    page = client.get(URL + YEAR_END)
    assert page.status_code == 200
    for words in ("As of the end of June 30, 2026", school.name, "Trumpet", "$350", "$650", "$338", "6.67%"):
        assert words in page.text


def test_a_director_sees_the_own_school_alone(client, director, school):
    make_old(school=school)
    make_old(school=make_school(name="Oak Hill"), kind_code="tuba")
    client.force_login(director)
    page = client.get(URL + YEAR_END).text
    assert school.name in page
    assert "Oak Hill" not in page
    assert "Tuba" not in page
    assert [row["Kind"] for row in rows_of(get_file(client, "schedule"))] == ["Trumpet"]


def test_a_tech_sees_no_values(client, tech):
    client.force_login(tech)
    assert client.get(URL).status_code == 403


def test_as_it_was_known(client, auditor, school, director):
    instrument = make_old(school=school)
    change_instrument(instrument=instrument, actor=director, at=NOW, acquisition_cost_amount=Decimal(9000))
    client.force_login(auditor)
    assert "$9,000" in client.get(URL + YEAR_END).text
    known = client.get(f"{URL}{YEAR_END}&known_on=2026-09-13")
    assert "as known on September 13, 2026" in known.text
    assert "$750" in known.text


@pytest.mark.parametrize("query", ["?on=June", "?on=1492-01-01", "?known_on=2100-01-01", "?known_on=x"])
def test_what_is_no_day_is_said_and_makes_no_file(client, auditor, query):
    client.force_login(auditor)
    assert client.get(URL + query).status_code == 422
    assert get_file(client, "schools", query=query).status_code == 404


def test_files_are_read_by_others_and_stand_in_the_log(client, auditor, school):
    make_old(school=school, maker="=Brass")
    client.force_login(auditor)
    (line,) = rows_of(get_file(client, "schools"))
    assert (line["School"], line["Book value"]) == (school.name, "350.00")
    there = client.get(reverse("desk:value-export", args=["schools", "csv"]), headers={"accept-language": "es"})
    assert rows_of(there)[0]["Escuela"] == school.name
    answer = get_file(client, "schedule", "xlsx")
    sheet = load_workbook(io.BytesIO(answer.getvalue())).active
    header, row = [[cell.value for cell in line] for line in sheet.iter_rows()]
    cells = dict(zip(header, row, strict=True))
    assert (cells["Book value"], cells["Maker"]) == (350, "=Brass")
    assert "value-schedule-2026-06-30.xlsx" in answer["Content-Disposition"]
    assert [event.after["rows"] for event in Event.objects.filter(act="exported").order_by("number")] == [1, 1, 1]
    paper = pypdfium2.PdfDocument(get_file(client, "schedule", "pdf").content)[0].get_textpage().get_text_range()
    assert all(words in paper for words in ("As-is value", "338.00", "=Brass"))


@pytest.mark.parametrize(("what", "form"), [("schools", "txt"), ("people", "csv")])
def test_there_is_no_other_file(client, auditor, what, form):
    client.force_login(auditor)
    assert get_file(client, what, form).status_code == 404


def test_a_fiscal_year_tells_what_was_added(client, auditor, school):
    instrument = make_old(school=school, acquired_on=date(2026, 8, 1))
    client.force_login(auditor)
    url = reverse("desk:value-year")
    page = client.get(f"{url}?year=2026-07-01").text
    assert instrument.asset_number in page
    assert "Fiscal year from July 1, 2026 to June 30, 2027" in page
    assert client.get(f"{url}?year=soon").status_code == 200
    (line,) = rows_of(get_file(client, "year", query="?year=2026-07-01"))
    assert (line["What"], line["Asset number"]) == ("Added", instrument.asset_number)


def test_the_page_costs_the_same_for_one_and_for_many_and_once(client, auditor, school):
    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(URL)
        return len(caught)

    client.force_login(auditor)
    client.get(URL)
    make_old(school=school)
    first, again = cost(), cost()
    for kind in ("tuba", "flute", "clarinet_bb"):
        make_old(school=school, kind_code=kind)
    assert cost() == first
    assert cost() == again < first
