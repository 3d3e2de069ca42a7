"""The log's pages: who sees which entries, filters, pages and files."""

from __future__ import annotations

import csv
import io
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from core.events import CheckedLinks
from core.models import Event
from desk.views import event_log
from inventory.models import Role
from inventory.services.registering import change_instrument
from repairs.services.care import record_care
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_school, make_user
from tests.inventory.leaving_makers import make_disposal

pytestmark = [pytest.mark.django_db, pytest.mark.page]

URL = reverse("desk:log")


def export(client, form="csv", query=""):
    return client.get(reverse("desk:log-export", args=[form]) + query)


def rows_of(response):
    return list(csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode("utf-8-sig"))))


def test_an_entry_says_from_and_to_and_whether_it_came_after_the_fact(client, auditor, school, director, tech):
    horn = make_ready_instrument(school=school, serial="12345")
    change_instrument(instrument=horn, actor=director, at=NOW, serial="12354")
    care = {"instrument": horn, "code": "piston_oil", "actor": tech, "at": NOW}
    record_care(done_on=TODAY - timedelta(days=9), **care)
    client.force_login(auditor)
    page = client.get(f"{URL}?number={horn.asset_number}").text
    assert "Serial: 12345 → 12354" in page
    assert "Entered after the fact: happened on" in page
    assert "Serial" not in client.get(f"{URL}?show=late").text


def test_a_page_leads_to_older_entries_and_back(client, auditor, school, monkeypatch):
    monkeypatch.setattr(event_log, "PER_PAGE", 2)
    make_ready_instrument(school=school)
    numbers = list(Event.objects.newest_first().values_list("number", flat=True))
    client.force_login(auditor)
    first = client.get(f"{URL}?since=2026-01-01").text
    assert f"?since=2026-01-01&amp;before={numbers[1]}" in first
    assert "Newest" not in first
    second = client.get(f"{URL}?before={numbers[1]}").text
    assert reverse("desk:log-entry", args=[numbers[2]]) in second
    assert reverse("desk:log-entry", args=[numbers[0]]) not in second
    assert "Newest" in second


def test_an_auditor_of_one_school_reads_its_log_alone(client, school):
    ours, theirs = make_instrument(school=school), make_instrument(school=make_school(name="Oak Hill"))
    client.force_login(make_user(Role.AUDITOR, school=school))
    for text in (client.get(URL).text, str(rows_of(export(client)))):
        assert ours.asset_number in text
        assert theirs.asset_number not in text
        assert "Oak Hill" not in text


def test_a_file_has_every_entry_and_is_an_entry_itself(client, auditor, school):
    make_instrument(school=school)
    told = [str(number) for number in Event.objects.newest_first().values_list("number", flat=True)]
    client.force_login(auditor)
    rows = rows_of(export(client))
    assert [row["Entry"] for row in rows] == told
    last = Event.objects.newest_first()[0]
    assert (last.act, last.actor, last.after) == (
        "exported", auditor, {"what": "event log", "form": "csv", "rows": len(told)},
    )  # fmt: skip
    sheet = load_workbook(io.BytesIO(b"".join(export(client, "xlsx", "?show=exports").streaming_content))).active
    assert [cell.value for cell in sheet[2]][:1] == [last.number]
    assert sheet.max_row == 2
    assert export(client, "pdf", "?act=registered").content.startswith(b"%PDF")


def test_how_one_left_is_in_the_file_and_on_its_entry_for_those_who_read_the_log(client, auditor, director, school):
    """2 CFR 200.334 asks for records of disposal; which columns: common practice, no source."""
    gone = make_disposal(
        make_instrument(school=school), value_amount=Decimal("10000.01"), proceeds_amount=Decimal("9000.01"),
        is_confirmed=True, actor=director,
    )  # fmt: skip
    event = Event.objects.get(act="left_fleet")
    client.force_login(auditor)
    (row,) = rows_of(export(client, query="?act=left_fleet"))
    for words in (
        "How: Sold", "Date: Sep 14, 2026", "Proceeds: $9,000.01", "Value as it was: $10,000.01",
        f"Approved by: {gone.approved_by}", "By password: yes",
    ):  # fmt: skip
        assert words in row["From and to"].split("; ")
    page = reverse("desk:log-entry", args=[event.number])
    for words in ("$9,000.01", "$10,000.01", str(gone.approved_by), reverse("desk:disposal", args=[gone.pk])):
        assert words in client.get(page).text
    assert "Proceeds" not in client.get(URL).text
    client.force_login(director)
    assert "$9,000.01" not in client.get(page).text


def test_a_workbook_of_too_many_entries_is_not_made(client, auditor, school, monkeypatch):
    monkeypatch.setattr(event_log, "MOST_IN_BOOK", 0)
    make_instrument(school=school)
    client.force_login(auditor)
    answer = export(client, "xlsx", "?act=registered")
    assert answer.headers["Location"] == f"{URL}?act=registered"
    assert not Event.objects.filter(act="exported").exists()


def test_the_log_is_for_auditors_and_administrators(client, director, tech, administrator):
    for user, status in ((director, 403), (tech, 403), (administrator, 200)):
        client.force_login(user)
        assert client.get(URL).status_code == status


def test_nothing_found_says_so(client, auditor):
    client.force_login(auditor)
    assert "No such entry" in client.get(f"{URL}?number=none").text
    assert export(client, "txt").status_code == 404


def test_the_chain_is_checked_a_stretch_at_a_time(client, auditor, school, monkeypatch):
    make_instrument(school=school)
    client.force_login(auditor)
    url = reverse("desk:check-log")
    assert "Check all entries" in client.get(url).text
    last = Event.objects.newest_first()[0]
    whole = client.get(f"{url}?after=0").text
    assert f"The chain is intact from entry 1 to entry {last.number}" in whole
    assert f"{last.number} {last.hash}" in whole
    stretch = CheckedLinks(last.number - 1, "ab", (), is_end=False)
    monkeypatch.setattr(event_log, "check_links", lambda **_kwargs: stretch)
    assert (
        f'name="after" value="{last.number - 1}"' in client.get(f"{url}?after=0", headers={"HX-Request": "true"}).text
    )
    broken = CheckedLinks(last.number, "ab", ("event 1: follows 9",), is_end=True)
    monkeypatch.setattr(event_log, "check_links", lambda **_kwargs: broken)
    text = client.get(f"{url}?after=0").text
    assert "event 1: follows 9" in text
    assert "The chain is intact" not in text
