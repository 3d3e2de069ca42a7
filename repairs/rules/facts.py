"""What the planner knows of a bench and of the tries made on it: plain values, no rows."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from core.translation import gettext as _
from core.translation import gettext_noop
from inventory.catalog.schema import Bath, Catalog, Cleaner, Kind, Method, Part
from inventory.rules.facts import Owed

BETWEEN_PLAYERS = "between_players"  # tag of what is done to all that touches a mouth before the next player
TRIES_A_WAY = 2  # at a stuck part, before the next way is due: common practice, no source


class Outcome(StrEnum):
    """What happened to one attempt, as the tech taps it."""

    DONE = "done"
    FREED = "freed"
    STILL_STUCK = "still_stuck"
    NOT_RIGHT = "not_right"  # done as described, and the fault is still there
    STOPPED = "stopped"  # given up because a stop rule was met
    DAMAGED = "damaged"
    SKIPPED = "skipped"

    @property
    def is_success(self) -> bool:
        return self in {Outcome.DONE, Outcome.FREED}

    @property
    def is_halt(self) -> bool:
        """Whether nobody should go on with this part here."""
        return self in {Outcome.STOPPED, Outcome.DAMAGED}

    @property
    def words(self) -> str:
        """Return what came of a try, as it stands inside a sentence."""
        return _(OUTCOME_WORDS[self])


OUTCOME_WORDS = {
    Outcome.DONE: gettext_noop("done"),
    Outcome.FREED: gettext_noop("freed"),
    Outcome.STILL_STUCK: gettext_noop("still stuck"),
    Outcome.NOT_RIGHT: gettext_noop("not right"),
    Outcome.STOPPED: gettext_noop("stopped"),
    Outcome.DAMAGED: gettext_noop("damaged"),
    Outcome.SKIPPED: gettext_noop("skipped"),
}


def cleaning_of(method: Method, *, kind: Kind) -> Owed | None:
    """Return the owed cleaning that this work is, or is part of: what touches a mouth, or all as its family is."""
    tags = frozenset(method.tags)
    if BETWEEN_PLAYERS in tags:
        return Owed.HYGIENE
    if not method.whole or "clean" not in tags:
        return None
    is_bathed = any(part.bath is not Bath.NONE for part in kind.parts)
    return Owed.FULL if "wet" in tags or ("dry_clean" in tags and not is_bathed) else None


def cleaners_for(code: str, *, kind: Kind, catalog: Catalog) -> tuple[Cleaner, ...]:
    """Return what a method may be done with that washes what the next player takes into the mouth; () for any other."""
    method = catalog.methods.get(code)
    is_wash = method is not None and "clean" in method.tags and cleaning_of(method, kind=kind) is Owed.HYGIENE
    return tuple(catalog.cleaners.values()) if is_wash else ()


def hygiene_left(parts: Iterable[Part], *, methods: Iterable[Method], done: Collection[str]) -> frozenset[str]:
    """Return the work between two players that these parts ask for and nobody has done.

    A washed mouthpiece beside the old reed is not all; an oboe has nothing but its reed.
    """
    roles = {part.role for part in parts}
    needed = (method for method in methods if BETWEEN_PLAYERS in method.tags and roles.intersection(method.roles))
    return frozenset(method.code for method in needed) - frozenset(done)


@dataclass(frozen=True, slots=True)
class BenchFact:
    """A workplace: the tools on it, what its people are trained for, what it is allowed to do.

    ``methods`` holds the codes of advanced and specialist methods somebody here is trained for (basic ones need
    no entry). A single rung is named ``ladder.rung``.
    """

    code: str
    tools: frozenset[str]
    methods: frozenset[str]
    has_torch: bool
    has_chemicals: bool
    rate_amount: Decimal  # dollars per attended hour


@dataclass(frozen=True, slots=True)
class AttemptFact:
    """One try at one step. Attempts are handed over in the order they were made."""

    step_key: str
    method: str
    rung: str  # "" unless the method is a ladder
    part: str
    place: str
    outcome: Outcome
    minutes: float | None = None
    is_earlier: bool = False  # of a job before this one, about a fault that still stands
