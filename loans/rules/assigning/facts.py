"""What an assignment is made from: what students need, what the school has, and what weighs how much."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum


class Keeps(StrEnum):
    """What keeps an instrument from going out, as far as it decides who could have it."""

    NOTHING = "nothing"
    CLEANING = "cleaning"  # only that its mouthpiece is not clean since its last player
    BENCH = "bench"  # on the bench or at a shop
    OUT = "out"  # with a student
    OTHER = "other"  # any other reason for which it stays in


class Stop(StrEnum):
    """Why a student cannot have an instrument, whatever it weighs."""

    POOL = "pool"
    KIND = "kind"
    SIZE = "size"
    KEPT = "kept"  # it stays in
    SHARED = "shared"  # its mouthpiece is not clean, and somebody else played it
    NOTES = "notes"  # it lacks notes that the student's level needs


@dataclass(frozen=True, slots=True)
class Weights:
    """Points against an instrument, or against leaving a student without one; whole numbers, 0 for no matter.

    ``level`` and ``condition`` count for each step, ``priority`` for each place of an ensemble before the last,
    ``waited`` for each month.
    """

    same: int
    level: int
    condition: int
    fairness: int
    priority: int
    waited: int

    @classmethod
    def from_settings(cls, settings: Mapping[str, Decimal]) -> Weights:
        return cls(
            same=int(settings["assign_same"]),
            level=int(settings["assign_level"]),
            condition=int(settings["assign_condition"]),
            fairness=int(settings["assign_fairness"]),
            priority=int(settings["assign_priority"]),
            waited=int(settings["assign_waited"]),
        )


@dataclass(frozen=True, slots=True)
class Wanted:
    """One instrument that one student needs."""

    key: str
    pool: int  # whose instruments count: the school
    player: int
    kind: str
    level: str
    size: str = ""  # "": any
    priority: int = 9  # of the ensemble, 1 comes first
    waited_days: int = 0
    had: int | None = None  # the instrument of this kind that the student had last
    had_limits: bool = False  # it had limits when it was handed out


@dataclass(frozen=True, slots=True)
class Offer:
    """One instrument of the school."""

    key: int
    pool: int
    kind: str
    size: str = ""
    is_better: bool = False  # of a better make than a student's
    condition: int = 0  # 0 nothing found, 1 marks or wear, 2 limits
    keeps: Keeps = Keeps.NOTHING
    last_player: int | None = None
    misses: Mapping[str, str] = field(default_factory=dict)  # by level that it is not enough for: what it lacks


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a line is as it is: a code that ``reason_words`` says, the points it cost, and a number that it names."""

    code: str
    points: int = 0
    number: int = 0
