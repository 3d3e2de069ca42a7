"""What is asked of the event log."""

from __future__ import annotations

from datetime import date

import pytest

from core.models import User
from desk.forms.event_log import LogFilterForm
from desk.selectors.event_log import LogFilter


def form(**asked):
    return LogFilterForm(asked, people=User.objects.none(), acts=[("moved", "Moved")])


def test_what_is_asked_is_understood():
    given = form(number="CF0001", since="2026-09-01", until="2026-09-30", act="moved", show="late")
    assert given.narrowed() == LogFilter(
        number="CF0001", since=date(2026, 9, 1), until=date(2026, 9, 30), act="moved", show="late"
    )


@pytest.mark.parametrize(
    "asked", [{"since": "1492-10-12"}, {"until": "2026-13-45"}, {"act": "no_such"}, {"show": "no_such"}]
)
def test_what_cannot_be_understood_does_not_narrow_and_is_said(asked):
    given = form(**asked)
    assert given.narrowed() == LogFilter()
    assert given.errors.keys() == asked.keys()
