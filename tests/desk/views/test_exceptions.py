"""The pages of exceptions: counts lead to their rows, and the file has both."""

from __future__ import annotations

import csv
import io

import pytest
from django.urls import reverse

from core.models import Event
from desk.selectors.exceptions import RULES
from desk.views import exceptions
from tests.factories import make_instrument, make_school

pytestmark = [pytest.mark.django_db, pytest.mark.page]

URL = reverse("desk:exceptions")


def test_a_count_leads_to_its_rows_and_the_file_has_them(client, auditor, school, monkeypatch):
    monkeypatch.setattr(exceptions, "AT_ONCE", 1)
    bare = [make_instrument(school=place, serial="") for place in (school, make_school())]
    client.force_login(auditor)
    page = client.get(URL).text
    assert 'num nowrap">2</span>' in page
    for rule in RULES:
        assert client.get(reverse("desk:exception", args=[rule])).status_code == 200
    rows = client.get(reverse("desk:exception", args=["no-serial"])).text
    assert all(horn.asset_number in rows for horn in bare)
    file = client.get(reverse("desk:exceptions-export", args=["csv"]))
    text = b"".join(file.streaming_content).decode("utf-8-sig")
    lines = [(row["Exception"], row["Asset number"]) for row in csv.DictReader(io.StringIO(text))]
    assert lines == [("No serial number", horn.asset_number) for horn in bare]
    event = Event.objects.newest_first()[0]
    assert event.after == {"what": "exceptions", "form": "csv", "rows": 2}
    assert client.get(reverse("desk:exceptions-export", args=["pdf"])).content.startswith(b"%PDF")


def test_where_nothing_is_found_no_file_is_offered(client, auditor, school):
    client.force_login(auditor)
    assert "exceptions.csv" not in client.get(URL).text
    assert "Nothing breaks this rule now." in client.get(reverse("desk:exception", args=["overdue"])).text


@pytest.mark.parametrize(("name", "arg"), [("desk:exception", "no-such"), ("desk:exceptions-export", "txt")])
def test_what_there_is_not_is_not_found(client, auditor, name, arg):
    client.force_login(auditor)
    assert client.get(reverse(name, args=[arg])).status_code == 404
