"""Care in the catalog: the student's card, and what comes round by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from msgspec import Meta

from inventory.catalog.schema.entries import Entry, Selective, Sourced
from inventory.catalog.schema.words import Family, In, Minutes, Origin, Texts

NO_MINUTES = (0, 0, 0)


@dataclass(frozen=True, slots=True)
class CareCard(Sourced):
    """What a student does for an instrument, and never does; a card to take home."""

    daily: Texts = ()
    weekly: Texts = ()
    never: Texts = ()
    between_players: Texts = ()  # what the program cleans then, besides accessories: a flute's lip plate
    tips: Texts = ()  # short, for the public page of a tag


NO_CARD = CareCard()


@dataclass(frozen=True, slots=True)
class Cleaner(Entry):
    """What mouthpieces are disinfected with."""

    wet_minutes: Annotated[int, Meta(ge=0, le=1440)]  # at least, where the label says no more


@dataclass(frozen=True, slots=True, kw_only=True)
class CareInterval(Selective):
    """Care that comes due again and again, done by the program. No roles or families: any."""

    code: str
    name: str  # imperative: "Bathe it"
    months: Annotated[int, Meta(ge=1, le=120)]  # between two times, for an instrument that is lent out a lot
    idle_months: Annotated[int, Meta(ge=0, le=120)] = 0  # for one that is mostly in storage; 0: not due then
    why: str
    method: Annotated[str, In("methods")] = ""  # doing it at the bench counts too
    minutes: Minutes = NO_MINUTES  # where no method gives them
    roles: Annotated[Texts, In("roles")] = ()
    families: tuple[Family, ...] = ()
    only_with: str = ""  # "option=choice" that the instrument must have, or ""
    origin: Origin = Origin.DEFAULT
