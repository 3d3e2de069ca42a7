"""Stored columns that do not match the facts, said for the commands that list them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from inventory.models import Instrument


def difference_words(instrument: Instrument, wrong: Mapping[str, Any]) -> list[str]:
    """A sentence for each column that does not match the facts."""
    return [
        f"{instrument.asset_number}: {name} is {getattr(instrument, name)!r}, the facts say {value!r}"
        for name, value in wrong.items()
    ]
