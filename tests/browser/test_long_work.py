"""What takes long: begun, left, and said to be done on whatever page its person is then. Common practice, no source."""

from __future__ import annotations

import io

import pytest
from django.core.management import call_command
from django.utils import timezone

from core.models import LongWork
from core.views import base
from tests.factories import make_instrument
from tests.plugins.browser import PHONE

FITS = "document.documentElement.scrollWidth <= window.innerWidth"


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_a_long_list_is_begun_left_and_taken_where_one_is_when_it_is_done(open_page, school, director, monkeypatch):
    monkeypatch.setitem(base.MOST_AT_ONCE, "xlsx", 1)
    for number in ("ELM-1", "ELM-2"):
        make_instrument(school=school, asset_number=number)
    page = open_page(user=director, viewport=PHONE)
    page.goto("/instruments/export.xlsx")
    page.get_by_text("Waiting to start").wait_for()
    now = timezone.now()
    LongWork.objects.update(started_at=now, reported_at=now, done=1, total=2, phase="Laying out pages")
    page.get_by_text("1 of 2").wait_for()  # it asked by itself
    assert page.evaluate(FITS)
    page.goto("/scan/")
    line = page.locator("#work-line")
    line.get_by_text("1 of 2").wait_for()
    assert page.evaluate(FITS)
    call_command("work", once=True, stdout=io.StringIO())
    line.get_by_text("Done: Instruments.").wait_for()
    with page.expect_download() as taken:
        line.get_by_role("link", name="Download").click()
    assert taken.value.suggested_filename.endswith(".xlsx")
    page.reload()
    page.get_by_role("heading", level=1).wait_for()
    assert page.locator("#work-line").count() == 0
