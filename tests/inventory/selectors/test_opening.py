"""What a link still does, and which first steps are done, by the facts."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.services.accounts import digest_of
from inventory.models import OpeningLink, Role, School, Tag
from inventory.selectors.opening import (
    Standing,
    first_steps,
    has_administrator,
    link_of,
    standing_of_link,
)
from inventory.services.figures import set_figures
from inventory.services.opening import LASTS, make_opening_link
from tests.factories import NOW, TODAY, make_district, make_instrument, make_room, make_school, make_user

pytestmark = pytest.mark.django_db


def undone():
    steps = first_steps(at=NOW)
    return [code for code, is_done in steps.done.items() if not is_done]


def test_a_link_opens_until_it_expires():
    link = link_of(make_opening_link(at=NOW))
    moments = [timedelta(), LASTS - timedelta(seconds=1), LASTS]
    assert [standing_of_link(link, at=NOW + after) for after in moments] == [
        Standing.OPEN,
        Standing.OPEN,
        Standing.EXPIRED,
    ]


def test_only_the_hash_of_the_token_is_kept():
    token = make_opening_link(at=NOW)
    row = OpeningLink.objects.get()
    assert row.token_hash == digest_of(token)
    assert token not in str(row.__dict__)
    assert link_of(row.token_hash) is None


def test_a_link_is_unknown_used_or_void():
    assert standing_of_link(link_of("nothing"), at=NOW) is Standing.UNKNOWN
    link = link_of(make_opening_link(at=NOW))
    make_user(Role.ADMINISTRATOR, is_active=False)  # who cannot log in gets a password by set_up
    assert has_administrator()
    assert standing_of_link(link, at=NOW) is Standing.VOID
    link.used_at = NOW
    assert standing_of_link(link, at=NOW) is Standing.USED


def test_before_the_district_is_named_there_are_no_steps():
    assert first_steps(at=NOW) is None


def test_each_step_is_done_by_what_is_there():
    make_district(first_steps_aside_at=None)
    everything = ["schools", "time_zone", "bench_rate", "school_year", "people", "list", "tags"]
    assert undone() == everything
    school = make_school()
    assert undone() == everything  # a school without a room
    make_room(school=school)
    assert undone() == everything[1:]
    set_figures(
        values={"time_zone": "America/Chicago", "bench_rate_amount": "30", "school_year_ends": "5-29"},
        effective_on=TODAY,
        actor=None,
        at=NOW,
    )
    assert undone() == ["people", "list", "tags"]
    person = make_user(Role.DIRECTOR, school=school)
    make_instrument(school=school)
    assert undone() == ["tags"]
    Tag.objects.update(printed_at=NOW)
    assert undone() == []
    assert first_steps(at=NOW).is_finished
    School.objects.create(code="NEW", name="New School")  # what is undone is to do again
    person.is_active = False
    person.save()
    assert undone() == ["schools", "people"]


def test_the_list_costs_two_queries(django_assert_num_queries):
    make_district()
    with django_assert_num_queries(2):
        first_steps(at=NOW)
