"""Two people who count one room at once, each on a connection of their own."""

from __future__ import annotations

import random

import pytest

from core.models import User
from inventory.models import Sighting
from inventory.services.counts import drop_count, open_count, record_sighting
from tests.contests import Act, at_once, contests, wrong_after
from tests.factories import NOW, make_director, make_instrument, make_school

pytestmark = pytest.mark.django_db(transaction=True)


def two_count_one_room() -> None:
    """Both see the same instruments and the same unknown number: each is one sighting, and nobody meets a fault."""
    school = make_school()
    people = [make_director(school), make_director(school)]
    fleet = [make_instrument(school=school) for _ in range(3)]
    count = open_count(school=school, actor=people[0], at=NOW)

    def counts(actor: User) -> Act:
        def act() -> list[bool]:
            rows = random.sample([*fleet, None], 4)
            return [
                record_sighting(
                    count=count, text=row.asset_number if row else "X-1", instrument=row, actor=actor, at=NOW
                ).is_new
                for row in rows
            ]

        return act

    answers = at_once(*map(counts, people))
    assert sum(map(sum, answers)) == 4
    assert Sighting.objects.filter(count=count, undone_at=None).count() == 4
    drop_count(count=count, actor=people[0], at=NOW)


@contests(two_count_one_room)
def test_what_two_people_see_in_one_room_is_counted_once(contest, rounds):
    assert wrong_after(contest, rounds) == []
