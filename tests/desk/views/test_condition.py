"""The page on the condition of the fleet: who sees which schools, the paper, and the files."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal

import pypdfium2
import pytest
from django.urls import reverse

from core.models import Event
from inventory.services.months import keep_month
from tests.factories import NOW, make_inspection, make_instrument, make_school

pytestmark = [pytest.mark.django_db, pytest.mark.page]
URL = reverse("desk:condition")
SEIZED = ("third_valve_slide", "slide_seized", "severe")


def rows_of(client, what: str, **asked: str):
    answer = client.get(reverse("desk:condition-export", args=[what, "csv"]), asked)
    return list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode("utf-8-sig"))))


@pytest.fixture
def fleet(school):
    make_inspection(instrument=make_instrument(school=school, funding_source="Boosters"), findings=[SEIZED])
    oak = make_school(code="OAK", name="Oak Hill High")
    make_instrument(school=oak, kind_code="tuba")
    keep_month(ends_on=date(2026, 8, 31), sums={school.pk: (1, Decimal(50), Decimal(650))}, actor=None, at=NOW)
    return oak


def test_the_page_answers_with_tables_and_charts(client, auditor, fleet):
    client.force_login(auditor)
    page = client.get(URL).text
    for words in ("1 of 2 instruments are not in playing condition", "Oak Hill High", "Boosters", "7.7%", "Tuba"):
        assert words in page
    assert page.count('role="img"') == 12  # five groups and the months, wide and for a phone
    assert page.count("<figcaption>") == 6
    assert "style=" not in page.split("<main")[1]


def test_one_school_may_be_chosen(client, auditor, fleet):
    client.force_login(auditor)
    assert "Tuba" not in client.get(URL, {"school": "ELM"}).text
    assert [row["Kind"] for row in rows_of(client, "kinds", school="OAK")] == ["Tuba"]
    assert [row["Kind"] for row in rows_of(client, "kinds", school="XYZ")] == ["Trumpet", "Tuba"]


def test_a_director_sees_the_own_school_alone(client, director, fleet):
    client.force_login(director)
    page = client.get(URL, {"school": "OAK"}).text
    assert "Oak Hill High" not in page
    assert "Tuba" not in page
    assert [row["School"] for row in rows_of(client, "schools")] == ["Elm Street Middle"]


def test_a_tech_sees_none_of_it(client, tech, fleet):
    client.force_login(tech)
    assert client.get(URL).status_code == 403


def test_the_paper_has_the_same_figures(client, auditor, fleet):
    client.force_login(auditor)
    document = pypdfium2.PdfDocument(client.get(reverse("desk:condition-pdf")).content)
    words = " ".join(" ".join(page.get_textpage().get_text_range() for page in document).split())
    for said in (
        "1 of 2 instruments are not in playing condition",
        "Oak Hill High",
        "Boosters",
        "Condition index: total",
    ):
        assert said in words


def test_files_stand_in_the_log(client, auditor, fleet):
    client.force_login(auditor)
    assert [row["Condition index"] for row in rows_of(client, "months")] == ["0.0769"]
    assert [row["Funding source"] for row in rows_of(client, "funding")] == ["Boosters", "Not recorded"]
    assert [one.after["rows"] for one in Event.objects.filter(act="exported").order_by("number")] == [1, 2]
    assert client.get(reverse("desk:condition-export", args=["rooms", "csv"])).status_code == 404


def test_an_empty_fleet_has_no_condition(client, auditor, school):
    make_school()
    client.force_login(auditor)
    page = client.get(URL)
    assert page.status_code == 200
    assert "there is no condition to report" in page.text
    assert client.get(reverse("desk:condition-pdf"), {"school": school.code}).status_code == 200
    assert Event.objects.get(act="exported").tenant == school.pk
