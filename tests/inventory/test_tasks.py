"""A long list is left to the worker: read, checked, registered, each step once. Common practice, no source."""

from __future__ import annotations

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse

from core.models import LongWork
from inventory.models import ImportBatch, Instrument
from inventory.services.importing import drop_import
from inventory.tasks import register_rows
from inventory.views import importing
from tests.factories import NOW, make_instrument
from tests.inventory.services.importing.makers import make_judged, make_workbook

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def everything_is_long(monkeypatch):
    monkeypatch.setattr(importing, "ROWS_AT_ONCE", 1)
    monkeypatch.setattr(importing, "READ_AT_ONCE", 10)


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def page_of(batch: ImportBatch, name: str = "import-batch") -> str:
    return reverse(f"inventory:{name}", args=[batch.pk])


def work() -> LongWork:
    call_command("work", once=True, stdout=io.StringIO())
    return LongWork.objects.latest("queued_at", "pk")


def test_it_is_read_checked_and_registered_by_the_worker_while_its_page_leads_to_how_far_it_is(desk, school):
    data = make_workbook([["Instrument", "Serial"], *(["Tpt", str(n)] for n in range(12))])
    sent = desk.post(reverse("inventory:import"), {"file": SimpleUploadedFile("a.xlsx", data), "school": school.pk})
    batch, reading = ImportBatch.objects.get(), LongWork.objects.get()
    assert sent.url == f"/progress/{reading.pk}/" == desk.get(page_of(batch)).url
    assert "a.xlsx" not in f"{reading.title} {reading.arguments}", "what somebody typed is not in it"
    assert work().result_url == page_of(batch)
    assert desk.get(page_of(batch)).url == page_of(batch, "import-columns")
    asked = {desk.post(page_of(batch, "import-columns"), {"column-0": "kind", "column-1": "serial"}).url for _ in "ab"}
    assert asked == {f"/progress/{LongWork.objects.latest('pk').pk}/"}, "one check of a list at a time"
    assert work().result_url == page_of(batch)
    assert "12 instruments ready to register" in desk.get(page_of(batch)).text
    desk.post(page_of(batch, "import-confirm"))
    assert work().message == "Imported 12 instruments, each with a tag to print."
    assert Instrument.objects.count() == 12
    assert register_rows(LongWork.objects.latest("pk"), NOW).message.startswith("Imported 12")
    assert Instrument.objects.count() == 12


def test_a_refusal_leads_back_to_the_list_and_a_discarded_one_says_so(desk, school, director):
    batch = make_judged(school=school, actor=director)
    make_instrument(school=school, asset_number="F-1")
    desk.post(page_of(batch, "import-confirm"))
    refused = work()
    assert "has been taken in the meantime" in refused.message
    assert page_of(batch) in desk.get(f"/progress/{refused.pk}/").text
    desk.post(page_of(batch, "import-again"))
    drop_import(batch=batch, actor=director, at=NOW)
    assert work().message == "This list is no longer open. Send it again."
    assert Instrument.objects.count() == 1


def test_a_workbook_damaged_further_down_is_discarded_with_the_reason(desk, school, monkeypatch):
    data = make_workbook([["Instrument", "Serial"], *(["Tpt", str(n)] for n in range(70))])
    desk.post(reverse("inventory:import"), {"file": SimpleUploadedFile("a.xlsx", data), "school": school.pk})
    monkeypatch.setattr("core.sheets.reading.MOST_ROWS", 60)
    refused = work()
    assert "more than 60 rows" in refused.message
    assert reverse("inventory:import") in desk.get(f"/progress/{refused.pk}/").text
