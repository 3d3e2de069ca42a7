"""Care in the catalog: the student's card, and what comes round by itself."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.catalog.schema.words import Family, Origin


@dataclass(frozen=True, slots=True)
class CareCard:
    """What a student does for an instrument, and never does; a card to take home."""

    daily: tuple[str, ...] = ()
    weekly: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    between_players: tuple[str, ...] = ()  # what the program cleans then, besides accessories: a flute's lip plate


NO_CARD = CareCard()


@dataclass(frozen=True, slots=True)
class CareInterval:
    """Work that a kind's use asks for again and again, done by the program. No roles or families: any."""

    code: str
    name: str  # imperative: "Bathe it"
    months: int  # between two times, for a horn that is lent out much
    idle_months: int  # for one that mostly lies in store; 0: not due then
    why: str
    origin: Origin
    method: str = ""  # of the catalog: doing it at the bench counts too
    minutes: tuple[int, int, int] = (0, 0, 0)  # where no method says them
    roles: tuple[str, ...] = ()
    families: tuple[Family, ...] = ()
    kinds: tuple[str, ...] = ()
    only_with: str = ""  # "option=choice" that the instrument must have, or ""
