"""Who has the instruments that are out: asked of the app above, which knows; it says no more than the user may see."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

from django.db.models import Q

from core.hooks import Hook


@dataclass(frozen=True, slots=True)
class Holder:
    """Who has an instrument, by the key of the loan. ``name`` and ``grade`` are "" for whoever may not see them."""

    name: str
    grade: str
    due_on: date
    loan: int


class Holders(Protocol):
    """What is asked of whoever knows."""

    def of(self, user: Any, keys: Collection[int]) -> dict[int, Holder]:
        """Return the holder of each of these instruments that is out, by key."""

    def in_grade(self, user: Any, grade: str) -> Q:
        """Return the instruments that a grade has, as far as the user may see who has them."""

    def grades(self, user: Any, *, today: date) -> list[str]:
        """Return the grades that the user may ask for, in order."""


holders: Hook[[], Holders] = Hook()
