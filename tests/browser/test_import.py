"""A list brought in on a phone: sent, looked at, confirmed; and the page that judges by itself."""

from __future__ import annotations

import pytest

from inventory.models import Instrument
from tests.plugins.browser import DESK, PHONE

LIST = (
    b"Instrument,Make,Serial\n"
    + b"".join(b"Tpt,Plain,%d\n" % number for number in range(30))
    + b"No such thing,Plain,x\n"
)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_a_list_is_sent_judged_and_written(open_page, school, director, viewport, monkeypatch):
    monkeypatch.setattr("inventory.views.importing.ROWS_AT_ONCE", 10)
    page = open_page(user=director, viewport=viewport)
    page.goto("/instruments/import/")
    page.set_input_files("[name=file]", {"name": "list.csv", "mimeType": "text/csv", "buffer": LIST})
    page.get_by_role("button", name="Read the list").click()
    page.get_by_role("button", name="Judge 31 rows").click()
    page.get_by_role("heading", name="30 instruments would come in").wait_for()
    assert not Instrument.objects.exists()
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    page.get_by_role("button", name="Write 30 instruments").click()
    page.get_by_role("heading", name="30 instruments written").wait_for()
    assert Instrument.objects.count() == 30
