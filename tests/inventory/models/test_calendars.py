"""An address of a calendar says no more of itself than its key."""

from __future__ import annotations

from inventory.models import CalendarLink


def test_it_is_called_by_its_key():
    assert str(CalendarLink(pk=3, token_hash="ab" * 32)) == "calendar link 3"
