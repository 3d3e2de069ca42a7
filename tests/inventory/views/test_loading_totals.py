"""A page that sums up the fleet answers in time: with how far it is, then with itself. Common practice, no source."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse

from inventory.selectors import school_sums
from inventory.selectors.school_sums import forget_sums
from inventory.views import loading_totals
from tests.factories import make_instrument, make_school

pytestmark = [pytest.mark.django_db, pytest.mark.page]

PAGES = ("value", "value-year", "replacement", "condition")


@pytest.fixture
def slow(monkeypatch):
    """No time at all, and a school at a time."""
    monkeypatch.setattr(loading_totals, "SECONDS", -1)
    monkeypatch.setattr(school_sums, "AT_ONCE", 0)
    return monkeypatch


def without_token(page: str) -> str:
    return "\n".join(line for line in page.splitlines() if "csrf" not in line and "nonce" not in line)


@pytest.mark.parametrize("name", PAGES)
def test_it_says_how_far_it_is_until_it_is_the_page(client, auditor, school, name, slow):
    for place in (school, make_school(name="Oak Hill")):
        make_instrument(school=place, acquired_on=date(2018, 7, 1))
    client.force_login(auditor)
    address = reverse(f"desk:{name}") + "?on=2026-06-30"
    first = client.get(address).text
    assert "1 of 2 schools done" in first
    assert '<input type="hidden" name="on" value="2026-06-30">' in first
    asking = {"hx-request": "true", "hx-target": loading_totals.PLACE}
    pieces = []
    while "HX-Refresh" not in (piece := client.get(address, headers=asking)).headers:
        pieces.append(piece.text)
        assert len(pieces) < 4
    assert all("<html" not in text and "schools done" in text for text in pieces)
    page = client.get(address).text
    assert "Oak Hill" in page
    slow.undo()
    forget_sums()
    assert without_token(client.get(address).text) == without_token(page)
