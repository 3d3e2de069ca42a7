"""The property record on the page and in its files: 2 CFR 200.313(d)(1), revision of 2024."""

from __future__ import annotations

import io

import openpyxl
import pypdfium2
import pytest
from django.urls import reverse

from tests.factories import make_instrument
from tests.inventory.leaving_makers import make_disposal

pytestmark = [pytest.mark.django_db, pytest.mark.page]
LIST, FILE = "desk:property", "desk:property-export"


def test_the_page_counts_and_lists_what_is_missing(client, school, auditor):
    row = make_instrument(school=school, funding_source="Levy")
    other = make_instrument(school=school)
    client.force_login(auditor)
    page = client.get(reverse(LIST), {"without": "funding"}).text
    assert other.asset_number in page
    assert row.asset_number not in page
    assert "acquisition date, cost" in page
    assert row.asset_number in client.get(reverse(LIST)).text
    assert "None." in client.get(reverse(LIST), {"scope": "federal"}).text


def test_the_files_have_disposals_too(client, school, auditor):
    held, gone = make_instrument(school=school), make_disposal(make_instrument(school=school)).instrument
    client.force_login(auditor)
    answer = client.get(reverse(FILE, args=["xlsx"]))
    body = b"".join(answer.streaming_content)
    rows = list(openpyxl.load_workbook(io.BytesIO(body)).active.iter_rows(values_only=True))
    assert {row[0] for row in rows[1:]} == {held.asset_number, gone.asset_number}
    lacking = b"".join(client.get(reverse(FILE, args=["csv"]), {"without": "cost"}).streaming_content).decode()
    assert held.asset_number in lacking
    assert gone.asset_number not in lacking
    pdf = pypdfium2.PdfDocument(client.get(reverse(FILE, args=["pdf"])).content)
    assert "Property record" in pdf[0].get_textpage().get_text_range()
    assert client.get(reverse(FILE, args=["doc"])).status_code == 404


def test_maintenance_is_a_paper(client, school, tech):
    horn = make_instrument(school=school)
    client.force_login(tech)
    assert client.get(reverse("desk:maintenance", args=[horn.asset_number])).content.startswith(b"%PDF")
