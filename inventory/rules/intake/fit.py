"""What a row says, in the words of the register: options of its kind, and in the notes what has no place of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from inventory.rules.intake.values import IntakeValues


class OptionLike(Protocol):
    """An option of a kind, as the catalog has it."""

    @property
    def code(self) -> str: ...
    @property
    def choices(self) -> tuple[str, ...]: ...
    @property
    def default(self) -> str: ...


@dataclass(frozen=True, slots=True)
class Fit:
    """``options`` names a choice for each option of the kind; ``left`` is what could not be one of them."""

    options: Mapping[str, str]
    left: tuple[str, ...]


def fit_options(values: IntakeValues, *, options: Sequence[OptionLike], key: str) -> Fit:
    """Return the kind's options with what the row says of size, valves and key; ``key`` is the kind's own."""
    chosen = {option.code: option.default for option in options}
    left = []
    for code, label, said in (
        ("size", "Size", values.size),
        ("valves", "Valves", "" if values.valves is None else str(values.valves)),
        ("key", "Key", values.key),
    ):
        if not said:
            continue
        found = [choice for o in options if o.code == code for choice in o.choices if _folded(choice) == _folded(said)]
        if found:
            chosen[code] = found[0]
        elif code != "key" or _folded(said) != _folded(key):
            left.append(f"{label}: {said}")
    return Fit(chosen, tuple(left))


def notes_of(values: IntakeValues, *, left: Sequence[str], most: int) -> str:
    """Return the notes: the row's own, then what has no place of its own. At most ``most`` characters."""
    lines = [values.notes] if values.notes else []
    lines += left
    if values.condition:
        lines.append(f"Condition in the list: {values.condition}")
    if values.accessories:
        lines.append(f"Accessories in the list: {', '.join(values.accessories)}")
    text = "\n".join(lines)
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _folded(text: str) -> str:
    return "".join(text.casefold().split())
