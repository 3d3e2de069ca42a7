"""What rules are given about an instrument: plain values, no rows."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from inventory.catalog.schema import Severity


class DetailWord(StrEnum):
    """A word of a finding's detail that decides which notes it costs."""

    UP = "up"  # a valve stays up: the rules take it so anyway
    DOWN = "down"  # a valve stays down
    SLOW = "slow"  # a valve moves late, but it moves
    RING = "ring"  # the finger ring of a slide


class Owed(StrEnum):
    """Cleaning that is owed whatever the findings are."""

    HYGIENE = "hygiene"  # of what touches a mouth, before the next player
    FULL = "full_cleaning"  # of all of it, the family's way: nobody knows its history


KNOWN_HISTORY = frozenset({"bought", "transfer"})


def owed_on_arrival(*, acquired_by: str, touches_mouth: bool, is_imported: bool = False) -> frozenset[Owed]:
    """Return the cleaning that an instrument owes from the day it is registered.

    Nobody saw it cleaned, unless it was bought and is registered by itself; a gift, or one from a closet, has a history
    that nobody knows.
    """
    if not touches_mouth or (acquired_by == "bought" and not is_imported):
        return frozenset()
    return frozenset({Owed.HYGIENE}) if acquired_by in KNOWN_HISTORY else frozenset(Owed)


@dataclass(frozen=True, slots=True)
class Detail:
    """A finding's detail as the rules take it."""

    words: frozenset[str] = frozenset()
    pulled_mm: float | None = None  # how far a slide stands out: "pulled 12 mm"
    position: int | None = None  # where a hand slide stops, 1 to 7: "position 4"


@lru_cache(maxsize=1000)
def read_detail(text: str) -> Detail:
    """Return what a detail says: its known words, its millimeters, its slide position."""
    low = text.casefold()
    pulled = re.search(r"(\d+(?:\.\d+)?)\s*mm", low)
    position = re.search(r"(?:position|pos\.?)\s*([1-7])", low)
    return Detail(
        words=frozenset(re.findall(r"[a-z]+", low)) & frozenset(DetailWord),
        pulled_mm=float(pulled.group(1)) if pulled else None,
        position=int(position.group(1)) if position else None,
    )


@dataclass(frozen=True, slots=True, order=True)
class FindingFact:
    """One fault at one part (and place), as a rule sees it. ``key`` ties it back to a row, if there is one."""

    part: str
    fault: str
    severity: Severity
    place: str = ""
    detail: str = ""  # "up", "down", "slow", "pulled 12 mm": what the fault's own words leave open
    key: str = ""
