"""A list brought in on a phone: sent, looked at, confirmed; a long one by the worker. Common practice, no source."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command

from inventory.models import Instrument
from tests.inventory.services.importing.makers import make_workbook
from tests.plugins.browser import DESK, PHONE

LIST = (
    b"Instrument,Make,Serial\n"
    + b"".join(b"Tpt,Plain,%d\n" % number for number in range(30))
    + b"No such thing,Plain,x\n"
)


@pytest.mark.django_db(transaction=True)
def test_a_large_workbook_is_left_to_the_worker_and_its_page_leads_on(open_page, school, director, monkeypatch):
    monkeypatch.setattr("inventory.views.importing.READ_AT_ONCE", 10)
    data = make_workbook([["Instrument", "Serial"], *(["Tpt", str(number)] for number in range(30))])
    page = open_page(user=director, viewport=PHONE)
    page.goto("/instruments/import/")
    page.set_input_files("[name=file]", {"name": "list.xlsx", "mimeType": "application/zip", "buffer": data})
    page.get_by_role("button", name="Read the list").click()
    page.get_by_text("Waiting to start").wait_for()
    call_command("work", once=True, stdout=io.StringIO())
    page.get_by_role("button", name="Check 30 rows").click()  # no press between: it led on by itself
    page.get_by_role("button", name="Register 30 instruments").click()
    page.get_by_role("heading", name="30 instruments registered").wait_for()
    assert Instrument.objects.count() == 30


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_a_list_is_sent_judged_and_written(open_page, school, director, viewport):
    page = open_page(user=director, viewport=viewport)
    page.goto("/instruments/import/")
    page.set_input_files("[name=file]", {"name": "list.csv", "mimeType": "text/csv", "buffer": LIST})
    page.get_by_role("button", name="Read the list").click()
    page.get_by_role("button", name="Check 31 rows").click()
    page.get_by_role("heading", name="30 instruments ready to register").wait_for()
    assert not Instrument.objects.exists()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.get_by_role("button", name="Register 30 instruments").click()
    page.get_by_role("heading", name="30 instruments registered").wait_for()
    assert Instrument.objects.count() == 30
