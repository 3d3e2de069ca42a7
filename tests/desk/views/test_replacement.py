"""The page of the need to replace: who sees which schools, and the files."""

from __future__ import annotations

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from core.models import Event
from tests.factories import make_instrument, make_school

pytestmark = [pytest.mark.django_db, pytest.mark.page]

URL = reverse("desk:replacement")


def get_file(client, what: str, form: str = "csv"):
    return client.get(reverse("desk:replacement-export", args=[what, form]))


def rows_of(response):
    text = b"".join(response.streaming_content).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_page_says_what_to_replace_and_what_it_costs(client, auditor, school):
    instrument = make_instrument(school=school, year_made=1980)
    make_instrument(school=make_school(name="Oak Hill"), year_made=2025)
    client.force_login(auditor)
    page = client.get(URL)
    assert page.status_code == 200
    for words in (instrument.asset_number, "Oak Hill", "to budget each year", "catalog: 10 to 20 years", "$650"):
        assert words in page.text
    assert page.text.count('role="img"') == 2


def test_a_director_sees_the_own_school_alone(client, director, school):
    mine = make_instrument(school=school, year_made=1980)
    make_instrument(school=make_school(name="Oak Hill"), kind_code="tuba", year_made=1980)
    client.force_login(director)
    page = client.get(URL).text
    assert mine.asset_number in page
    assert "Oak Hill" not in page
    assert "Tuba" not in page
    assert [row["Asset number"] for row in rows_of(get_file(client, "first"))] == [mine.asset_number]
    assert [row["Kind"] for row in rows_of(get_file(client, "kinds"))] == ["Trumpet"]


def test_a_tech_sees_none_of_it(client, tech):
    client.force_login(tech)
    assert client.get(URL).status_code == 403
    assert get_file(client, "years").status_code == 403


def test_a_fleet_of_nothing_is_said_to_need_nothing(client, auditor, school):
    client.force_login(auditor)
    assert "there is nothing to replace" in client.get(URL).text


def test_files_stand_in_the_log(client, auditor, school):
    make_instrument(school=school, year_made=1980)
    client.force_login(auditor)
    answer = get_file(client, "years")
    assert "replacement-years-" in answer["Content-Disposition"]
    assert len(rows_of(answer)) == 10
    sheet = load_workbook(io.BytesIO(b"".join(get_file(client, "first", "xlsx").streaming_content))).active
    assert [cell.value for cell in sheet[1]][:2] == ["Place", "Asset number"]
    told = Event.objects.filter(act="exported").order_by("number")
    assert [event.after["rows"] for event in told] == [10, 1]
    assert get_file(client, "years", "pdf").content.startswith(b"%PDF")


@pytest.mark.parametrize(("what", "form"), [("years", "txt"), ("schedule", "csv")])
def test_there_is_no_other_file(client, auditor, what, form):
    client.force_login(auditor)
    assert get_file(client, what, form).status_code == 404


def test_the_page_costs_the_same_for_one_and_for_many(client, auditor, school):
    def cost() -> int:
        with CaptureQueriesContext(connection) as caught:
            client.get(URL)
        return len(caught)

    client.force_login(auditor)
    client.get(URL)
    make_instrument(school=school)
    first = cost()
    for kind in ("tuba", "flute", "clarinet_bb"):
        make_instrument(school=school, kind_code=kind)
    assert cost() == first
