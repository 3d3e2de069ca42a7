"""Counts, and seeing instruments in them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from core.models import User
from inventory.models import Count, Instrument, Role, Room, School
from inventory.selectors.counts import Seen, differences_of
from inventory.services.counts import (
    Settled,
    drop_count,
    end_counting,
    open_count,
    record_sighting,
    sign_count,
)
from tests.factories import NOW, make_director, make_instrument, make_user

LATER = NOW + timedelta(hours=1)


def see(count: Count, instrument: Instrument | None, actor: User, *, text: str = "", **more: Any) -> Seen:
    text = text or (instrument.asset_number if instrument else "")
    return record_sighting(count=count, text=text, instrument=instrument, actor=actor, at=LATER, **more)


def make_count(*, school: School, rooms: Sequence[Room] = (), is_ended: bool = False, is_signed: bool = False) -> Count:
    """A count with one instrument seen and one unknown number; an open one of the school is canceled first."""
    director, second = make_director(school), make_user(Role.TECH, school=school)
    for there in Count.objects.open().filter(school=school):
        drop_count(count=there, actor=director, at=NOW)
    instrument = make_instrument(school=school)
    count = open_count(school=school, rooms=rooms, actor=director, at=NOW)
    see(count, instrument, director)
    see(count, None, director, text="OLD-1")
    if is_ended or is_signed:
        count = end_counting(count=count, actor=director, at=LATER)
    if is_signed:
        settled = {one.key: Settled(one.reasons[-1]) for one in differences_of(count)}
        count = sign_count(count=count, settled=settled, second=second, actor=director, at=LATER)
    return count
