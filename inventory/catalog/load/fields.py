"""Takes typed values out of one entry and notes, by dotted key, every value that does not fit.

A value that does not fit is noted and replaced by a harmless one, so that one reading finds every problem.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Any, TypeVar

from inventory.catalog.load.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

E = TypeVar("E", bound=StrEnum)

MISSING = object()
MINUTES = 3  # low, likely, high


@dataclass(slots=True)
class Fields:
    """One mapping of a file while it is read; ``close()`` notes the keys nobody asked for."""

    raw: dict[str, Any]
    file: str
    key: str
    problems: list[Problem]
    taken: set[str] = field(default_factory=set)

    def note(self, name: str, reason: str) -> None:
        """Record a problem at a key of this entry ("" for the entry itself)."""
        self.problems.append(Problem(self.file, f"{self.key}.{name}" if name else self.key, reason))

    def close(self) -> None:
        """Note every key that no reader took."""
        for name in self.raw:
            if name not in self.taken:
                self.note(str(name), "unknown key")

    def has(self, name: str) -> bool:
        return name in self.raw

    def take(self, name: str, default: Any = MISSING) -> Any:
        """Return the bare value; a missing one is noted unless there is a default."""
        self.taken.add(name)
        if name in self.raw:
            return self.raw[name]
        if default is MISSING:
            self.note(name, "missing")
            return None
        return default

    def text(self, name: str, default: Any = MISSING) -> str:
        value = self.take(name, default)
        if isinstance(value, str):
            return value
        if value is not None or name in self.raw:
            self.note(name, "expected text")
        return ""

    def texts(self, name: str, default: Any = ()) -> tuple[str, ...]:
        return self._texts(name, self.take(name, default))

    def _texts(self, name: str, value: Any) -> tuple[str, ...]:
        if value is None and name not in self.raw:
            return ()
        if not isinstance(value, list | tuple) or not all(isinstance(item, str) for item in value):
            self.note(name, "expected a list of texts")
            return ()
        return tuple(value)

    def flag(self, name: str, *, default: bool) -> bool:
        value = self.take(name, default)
        if isinstance(value, bool):
            return value
        self.note(name, "expected true or false")
        return default

    def number(self, name: str, default: Any = MISSING) -> Decimal:
        return self._number(name, self.take(name, default))

    def _number(self, name: str, value: Any) -> Decimal:
        if isinstance(value, int | float | Decimal) and not isinstance(value, bool) and value >= 0:
            return Decimal(str(value))
        if value is not None or name in self.raw:
            self.note(name, "expected a number that is not negative")
        return Decimal(0)

    def share(self, name: str, default: Any = MISSING) -> float:
        value = self.number(name, default)
        if value > 1:
            self.note(name, "expected a share between 0 and 1")
        return float(value)

    def whole(self, name: str, default: Any = MISSING, *, low: int, high: int) -> int:
        value = self.take(name, default)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        if value is not None or name in self.raw:
            self.note(name, f"expected a whole number from {low} to {high}")
        return low

    def choice(self, name: str, kind: type[E], default: Any = MISSING) -> E:
        value = self.take(name, default)
        if isinstance(value, str) and value in tuple(kind):
            return kind(value)
        if value is not None or name in self.raw:
            self.note(name, f"expected one of {', '.join(filter(None, kind))}")
        return next(iter(kind))

    def choices(self, name: str, kind: type[E], default: tuple[E, ...]) -> tuple[E, ...]:
        values = self.texts(name, default)
        for value in values:
            if value not in tuple(kind):
                self.note(name, f"expected some of {', '.join(kind)}")
                return default
        return tuple(kind(value) for value in values)

    def minutes(self, name: str) -> tuple[int, int, int]:
        """Read low, likely and high minutes, in that order."""
        value = self.take(name)
        whole = isinstance(value, list) and all(isinstance(item, int) and item >= 0 for item in value)
        if whole and len(value) == MINUTES and sorted(value) == value:
            return value[0], value[1], value[2]
        if value is not None or name in self.raw:
            self.note(name, "expected minutes as [low, likely, high]")
        return 0, 0, 0

    def span(self, name: str, default: Any = MISSING) -> tuple[Decimal, Decimal]:
        """Read a low and a high figure."""
        value = self.take(name, default)
        if value is None and name not in self.raw:
            return Decimal(0), Decimal(0)
        if not isinstance(value, list) or len(value) != 2:  # low, high
            self.note(name, "expected [low, high]")
            return Decimal(0), Decimal(0)
        low, high = (self._number(name, item) for item in value)
        if low > high:
            self.note(name, "low is above high")
        return low, high

    def maybe_span(self, name: str) -> tuple[Decimal, Decimal] | None:
        return self.span(name) if self.has(name) else None

    def inner(self, name: str) -> Fields:
        """Return the mapping at a key as an entry of its own."""
        return self.entry(name, self.take(name, {}))

    def entry(self, name: str, value: Any) -> Fields:
        key = f"{self.key}.{name}"
        if not isinstance(value, dict):
            self.problems.append(Problem(self.file, key, "expected a mapping"))
            value = {}
        return Fields(value, self.file, key, self.problems)

    def each(self, name: str) -> Iterator[tuple[str, Fields]]:
        """Walk a mapping of entries by code."""
        value = self.take(name, {})
        if not isinstance(value, dict):
            self.note(name, "expected a mapping")
            return
        for code, inner in value.items():
            yield str(code), self.entry(f"{name}.{code}", inner)
