"""What one row would become, as values that can be stored between the dry run and the confirmation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal
from typing import Any, Final

_DATES: Final = frozenset({"acquired_on"})
_DECIMALS: Final = frozenset({"cost_amount", "federal_share"})
_WHOLE: Final = frozenset({"year_made", "valves"})


@dataclass(frozen=True, slots=True)
class IntakeValues:
    """An instrument as a row tells it. Text is "" and everything else None where the row says nothing."""

    kind: str = ""  # code
    asset_number: str = ""
    level: str = ""
    maker: str = ""
    model: str = ""
    serial: str = ""
    year_made: int | None = None
    size: str = ""
    valves: int | None = None
    key: str = ""
    acquired_by: str = ""  # bought, gift, transfer
    acquired_on: date | None = None
    cost_amount: Decimal | None = None
    funding_source: str = ""
    award_number: str = ""
    federal_share: Decimal | None = None  # percent
    title_holder: str = ""
    donor: str = ""
    school: str = ""  # code
    room: str = ""
    condition: str = ""
    accessories: tuple[str, ...] = ()
    notes: str = ""

    def as_record(self) -> dict[str, Any]:
        """Return what JSON can hold, without the empty values."""
        record: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if value is None or value in ("", ()):
                continue
            if isinstance(value, tuple):
                value = list(value)
            record[field.name] = value if isinstance(value, int | str | list) else str(value)
        return record

    @classmethod
    def from_record(cls, record: Mapping[str, Any]) -> IntakeValues:
        """Return what ``as_record`` was made from."""
        return cls(**{name: _restored(name, value) for name, value in record.items()})


def _restored(name: str, value: Any) -> Any:  # JSON
    if name in _DATES:
        return date.fromisoformat(value)
    if name in _DECIMALS:
        return Decimal(value)
    if name in _WHOLE:
        return int(value)
    return tuple(value) if name == "accessories" else value
