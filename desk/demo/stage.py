"""What the demo's steps share: one random source, one clock, and the rows they all need."""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import yaml
from django.utils import timezone

from core.models import User
from inventory.models import Instrument, Room, School
from inventory.services.registering import TOKEN_LENGTH, TOKEN_LETTERS
from loans.models import Student
from repairs.models import Bench

FOLDER = Path(__file__).resolve().parent.parent.parent / "fixtures" / "demo"


def read_data(name: str) -> Any:
    """Load one of the demo's YAML files."""
    return yaml.safe_load((FOLDER / f"{name}.yaml").read_text(encoding="utf-8"))


@dataclass
class Stage:
    """Everything random comes from ``rng`` and every date from ``today``, so the same two give the same rows."""

    today: date
    rng: random.Random
    share: float = 1.0  # of the full district
    people: dict[str, User] = field(default_factory=dict)
    schools: dict[str, School] = field(default_factory=dict)
    rooms: dict[str, list[Room]] = field(default_factory=dict)
    benches: dict[str, Bench] = field(default_factory=dict)
    students: dict[str, list[Student]] = field(default_factory=dict)
    fleet: list[Instrument] = field(default_factory=list)
    watched: list[Instrument] = field(default_factory=list)  # play-tested again and again

    def at(self, days: int, hour: int = 9, minute: int = 0) -> datetime:
        """Return the moment ``days`` from today at a local hour; negative is the past."""
        local = datetime.combine(self.today + timedelta(days=days), time(hour, minute))
        return timezone.make_aware(local)

    def some(self, count: int) -> int:
        """Return the share of a number, rounded, possibly 0."""
        return round(count * self.share)

    def moment(self, days: int) -> datetime:
        """Return a random moment of that working day."""
        return self.at(days, self.rng.randint(8, 15), self.rng.randint(0, 59))

    def token(self) -> str:
        return "".join(self.rng.choice(TOKEN_LETTERS) for _ in range(TOKEN_LENGTH))

    def nonce(self) -> uuid.UUID:
        return uuid.UUID(int=self.rng.getrandbits(128))

    def director_of(self, school: School) -> User:
        """Return the school's band director."""
        name = {"QUARRY": "director-quarry", "TVHS": "director-high"}.get(school.code, "director")
        return self.people[name]
