"""Turns plain values into the catalog's dataclasses, noting by dotted key every value that does not fit.

The types of the fields are the rules: msgspec converts each value, ``In("faults")`` names the section whose codes it
holds. An entry with a problem is left out, so that one reading finds every problem.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields, is_dataclass
from decimal import Decimal
from difflib import get_close_matches
from enum import EnumType
from functools import cache
from types import NoneType
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar, get_args, get_origin, get_type_hints

import msgspec

from inventory.catalog.load.problems import Problem
from inventory.catalog.schema.words import In, NoteRange, OneOrMore, Origin
from inventory.rules.pitch import midi_of

if TYPE_CHECKING:
    from inventory.catalog.load.folder import Folder

T = TypeVar("T")

EXPECTED: Mapping[Any, str] = {
    str: "text",
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    Decimal: "a number that is not negative",
    tuple[str, ...]: "a list of texts",
}
ONE = {"accessories": "accessory", "care": "care", "play_tests": "play test"}  # of a section, where not without its s
# Optional for the rules' own use, but an entry of a file must say them.
REQUIRED = {("Method", "watch"), ("Ladder", "freed_words"), ("Ladder", "stuck_words")}


@dataclass(frozen=True, slots=True)
class Slot:
    """One field, or the keys or values of a mapping: what it takes."""

    hint: Any
    name: str = ""
    is_required: bool = False
    section: str = ""  # it holds codes of this section
    expected: str = ""
    is_notes: bool = False  # a low and a high note
    is_one_or_more: bool = False  # one plain value stands for a list of one
    item: Any = None  # dataclass of its items, where it is a tuple of entries
    key: Slot | None = None  # of a mapping
    value: Slot | None = None


@cache
def slots_of(kind: Any) -> Mapping[str, Slot]:
    """Return the slot of every field of a dataclass, by name."""
    hints = get_type_hints(kind, include_extras=True)
    return {
        one.name.removesuffix("_"): _slot(  # from_, because from is Python's
            hints[one.name],
            name=one.name,
            is_required=(one.default is MISSING and one.default_factory is MISSING)
            or (kind.__name__, one.name) in REQUIRED,
        )
        for one in fields(kind)
    }


def _slot(hint: Any, *, name: str = "", is_required: bool = False) -> Slot:
    marks = hint.__metadata__ if get_origin(hint) is Annotated else ()
    section = next((mark.section for mark in marks if isinstance(mark, In)), "")
    bare = hint.__origin__ if marks else hint
    if get_origin(bare) is Mapping:
        key, value = get_args(bare)
        return Slot(bare, name, is_required, key=_slot(key), value=_slot(value))
    arguments = get_args(bare)
    item = arguments[0] if get_origin(bare) is tuple and is_dataclass(arguments[0]) else None
    return Slot(
        hint,
        name,
        is_required,
        section=section,
        expected=_expected(hint),
        is_notes=NoteRange in (hint, *arguments),
        is_one_or_more=any(isinstance(mark, OneOrMore) for mark in marks),
        item=item,
    )


def _expected(hint: Any) -> str:
    """Say what a value has to be, as in "expected one of light, moderate, severe"."""
    for mark in getattr(hint, "__metadata__", ()):
        if isinstance(mark, msgspec.Meta):
            return mark.description or f"a whole number from {mark.ge} to {mark.le}"
    arguments = get_args(hint)
    if NoneType in arguments:
        return _expected(next(one for one in arguments if one is not NoneType))
    if get_origin(hint) is Annotated:
        return _expected(arguments[0])
    if get_origin(hint) is tuple and (isinstance(arguments[0], EnumType) or get_origin(arguments[0]) is Literal):
        return f"some of {_expected(arguments[0]).removeprefix('one of ')}"
    if get_origin(hint) is Literal or isinstance(hint, EnumType):
        return f"one of {', '.join(str(one) for one in arguments or hint if one and one is not Origin.DISTRICT)}"
    return EXPECTED.get(hint, "a list")


@dataclass(slots=True)
class Reader:
    """Reads entries of one file after another into ``problems``. ``file`` is the one that is read now."""

    folder: Folder
    file: str = ""
    problems: list[Problem] = field(default_factory=list)

    def note(self, key: str, reason: str) -> None:
        self.problems.append(Problem(self.file, key, reason))

    def section(self, name: str, kind: type[T]) -> dict[str, T]:
        """Read every entry of a section by code, in the order of the file; one without an origin gets its file's."""
        result = {}
        for code, raw in self.folder.sections[name].items():
            self.file = self.folder.files[name, code]
            entry = self.entry(kind, raw, f"{name}.{code}", code=code, origin=self.folder.origins.get((name, code)))
            if entry is not None:
                result[code] = entry
        return result

    def entry(self, kind: type[T], raw: Any, key: str, **given: Any) -> T | None:
        """Read one mapping into a dataclass; None if something of it does not fit.

        ``given`` are values that are set from outside: they replace a missing origin, and no file may say the others.
        """
        if not isinstance(raw, dict):
            self.note(key, "expected a mapping")
            return None
        shape: Any = kind
        before, slots = len(self.problems), slots_of(shape)
        if given.get("origin") is not None:
            raw = {"origin": given.pop("origin"), **raw}
        values = {name: value for name, value in given.items() if name in slots and value is not None}
        for name in raw:
            if name not in slots or name in values:
                self.note(
                    f"{key}.{name}", f"unknown key{did_you_mean(str(name), slots.keys() - raw.keys() - values.keys())}"
                )
        for name, slot in slots.items():
            if name in values:
                continue
            if name in raw:
                values[name] = self.value(slot, raw[name], f"{key}.{name}", origin=raw.get("origin"))
            elif slot.is_required:
                self.note(f"{key}.{name}", "missing")
        if len(self.problems) > before:
            return None
        return kind(**{slots[name].name: value for name, value in values.items()})

    def value(self, slot: Slot, raw: Any, key: str, *, origin: Any = None) -> Any:
        """Return a value as its slot wants it; what does not fit is noted, and None comes back."""
        if slot.key and slot.value:
            return self._mapping(slot.key, slot.value, raw, key)
        if slot.item is not None:
            return self._entries(slot.item, raw, key, origin=origin)
        if slot.is_one_or_more and not isinstance(raw, list):
            raw = [raw]
        try:
            value = msgspec.convert(raw, slot.hint)
        except msgspec.ValidationError:
            self.note(key, f"expected {slot.expected}")
            return None
        if not _adds_up(value, raw) or (slot.is_notes and value and not _goes_up(value)):
            self.note(key, f"expected {slot.expected}")
        elif slot.section:
            self.check_codes(slot.section, (value,) if isinstance(value, str) else value, key)
        return value

    def check_codes(self, section: str, codes: Collection[str], key: str) -> None:
        """Note every code that its section does not have; the empty one stands for none."""
        known = self.folder.sections[section]
        for code in codes:
            if code and code not in known:
                self.note(key, f"no {ONE.get(section, section[:-1])} called {code}{did_you_mean(code, known)}")

    def _mapping(self, keys: Slot, values: Slot, raw: Any, key: str) -> dict[Any, Any]:
        if not isinstance(raw, dict):
            self.note(key, "expected a mapping")
            return {}
        wanted = list(map(str, keys.hint)) if isinstance(keys.hint, EnumType) else []
        for name in wanted:
            if name not in raw:
                self.note(f"{key}.{name}", "missing")
        result = {}
        for name, value in raw.items():
            if wanted and name not in wanted:
                self.note(f"{key}.{name}", f"unknown key{did_you_mean(str(name), wanted)}")
            else:
                code = self.value(keys, name, f"{key}.{name}")
                result[code] = self.value(values, value, f"{key}.{name}")
        return result

    def _entries(self, item: type, raw: Any, key: str, *, origin: Any) -> tuple[Any, ...]:
        """Read the entries of a list, or of a mapping by code, which inherit the origin of what they belong to."""
        if not isinstance(raw, list | dict):
            self.note(key, f"expected a {'mapping' if 'code' in slots_of(item) else 'list'}")
            return ()
        pairs: Iterable[tuple[Any, Any]] = raw.items() if isinstance(raw, dict) else enumerate(raw, start=1)
        own = origin if "origin" in slots_of(item) else None
        found = [
            self.entry(item, one, f"{key}.{name}", code=name if isinstance(raw, dict) else None, origin=own)
            for name, one in pairs
        ]
        return tuple(one for one in found if one is not None)


def did_you_mean(word: str, known: Collection[str]) -> str:
    """Return the known word that was probably meant, as the end of a sentence; "" where none is close."""
    close = get_close_matches(word, known, n=1)
    return f"; did you mean {close[0]}?" if close else ""


def _adds_up(value: Any, raw: Any) -> bool:
    """Whether figures were written as figures, are finite and not negative, and go up from low to high."""
    listed = list(zip(value, raw, strict=True)) if isinstance(value, tuple) else [(value, raw)]
    if any(isinstance(written, str) and isinstance(figure, Decimal) for figure, written in listed):
        return False
    figures = [figure for figure, _ in listed if isinstance(figure, Decimal | int)]
    if isinstance(value, Decimal | tuple) and not all(
        Decimal(figure).is_finite() and figure >= 0 for figure in figures
    ):
        return False
    return figures == sorted(figures)


def _goes_up(notes: tuple[str, str]) -> bool:
    try:
        return midi_of(notes[0]) < midi_of(notes[1])
    except ValueError:
        return False
