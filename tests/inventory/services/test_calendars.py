"""Addresses of calendars are made for oneself, one a school, and read some times an hour."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from inventory.models import CalendarLink
from inventory.services.calendars import (
    READS_PER_HOUR,
    calendar_link_of,
    make_calendar_link,
    may_read_calendar,
    revoke_calendar_link,
)
from tests.factories import NOW

pytestmark = pytest.mark.django_db


def test_a_new_one_ends_the_one_before_and_revoking_twice_changes_nothing(school, director):
    first, second = (make_calendar_link(school=school, actor=director, at=NOW) for _ in range(2))
    assert calendar_link_of(first) is None
    link = calendar_link_of(second)
    assert link is not None
    for later in (1, 2):
        revoke_calendar_link(link=link, actor=director, at=NOW + timedelta(days=later))
    link.refresh_from_db()
    assert link.revoked_at == NOW + timedelta(days=1)
    assert calendar_link_of(second) is None


def test_not_of_a_school_where_one_does_not_work(school, stranger):
    with pytest.raises(RefusedError):
        make_calendar_link(school=school, actor=stranger, at=NOW)
    assert not CalendarLink.objects.exists()


def test_whoever_is_deactivated_reads_nothing_more(school, director):
    token = make_calendar_link(school=school, actor=director, at=NOW)
    director.is_active = False
    director.save()
    assert calendar_link_of(token) is None


def test_readings_are_counted_for_each_address(school, director):
    link = calendar_link_of(make_calendar_link(school=school, actor=director, at=NOW))
    assert all(may_read_calendar(link) for _ in range(READS_PER_HOUR))
    assert not may_read_calendar(link)
    assert may_read_calendar(calendar_link_of(make_calendar_link(school=school, actor=director, at=NOW)))
