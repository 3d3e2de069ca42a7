"""What a list leaves to the district: the next asset numbers, and the rooms its rows name."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import lru_cache
from itertools import count
from typing import Protocol

from inventory.models import District, Instrument, Room
from inventory.rules.intake.row import place_key


class Coming(Protocol):
    """An instrument on its way in, with number and room as its row says, "" where it says none."""

    instrument: Instrument
    number: str
    room: str


def give_numbers(prepared: Sequence[Coming]) -> None:
    """Take the missing numbers from the district's sequence, all in one go; a number once taken never comes back."""
    for one in prepared:
        one.instrument.asset_number = one.number
    waiting = [one.instrument for one in prepared if not one.number]
    if not waiting:
        return
    district = District.objects.select_for_update().get(pk=1)
    taken = set(Instrument.objects.order_by().values_list("asset_number", flat=True))
    taken |= {one.number for one in prepared}
    free = ((n, number) for n in count(district.next_asset_number) if (number := district.asset_number(n)) not in taken)
    for instrument in waiting:
        last, instrument.asset_number = next(free)
    District.objects.filter(pk=1).update(next_asset_number=last + 1)


def give_rooms(prepared: Sequence[Coming]) -> Collection[Room]:
    """Find each room by any spelling of its name, or make it under the first; return the new ones."""
    named: dict[tuple[int, str], list[Coming]] = {}  # by school and name as rooms are compared
    for one in prepared:
        if one.room:
            named.setdefault((one.instrument.school_id, _room_key(one.room)), []).append(one)
    schools = {school for school, _ in named}
    rooms = {
        (room.school_id, place_key(room.name)): room for room in Room.objects.filter(school__in=schools).order_by("-pk")
    }
    new = {key: Room(school_id=key[0], name=some[0].room) for key, some in named.items() if key not in rooms}
    Room.objects.bulk_create(new.values())
    for key, some in named.items():
        for one in some:
            one.instrument.room = rooms.get(key) or new[key]
    return new.values()


_room_key = lru_cache(maxsize=4096)(place_key)
