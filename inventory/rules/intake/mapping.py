"""Guessing which column holds what: from what was said last time, the heading, and the contents.

A column is called by its key in ``inventory.columns.IN_LISTS``.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Final

from core.cells import Cell, SheetRow
from core.translation import gettext as _
from inventory.columns import IN_LISTS, TELLING_WORDS
from inventory.rules.intake.headings import BY_HEADING, normal_heading, own_columns
from inventory.rules.intake.parse.dates import parse_date
from inventory.rules.intake.parse.reading import Reading, UnreadableError
from inventory.rules.intake.parse.words import FindKind, parse_acquired_by, parse_kind, parse_level

REMEMBERED: Final = 1.0
SAME_WORDS: Final = 0.9
SOME_WORDS: Final = 0.6
ONLY_CONTENTS: Final = 0.4
DOUBTFUL: Final = 0.3
EMPTY: Final = 0.7  # what is left of a guess when the column holds nothing to bear it out
MOST: Final = 0.7  # of the sample's filled cells

NOT_IMPORTED: Final = ""  # what is remembered for a column that somebody left out on purpose


@dataclass(frozen=True, slots=True)
class ColumnGuess:
    """What one column seems to be; ``field`` None means that it is left out."""

    index: int
    header: str
    field: str | None
    confidence: float  # 0 to 1
    because: str  # for the person who checks it

    @property
    def is_sure(self) -> bool:
        """Say whether the guess needs no second look."""
        return self.confidence >= SOME_WORDS


@dataclass(frozen=True, slots=True)
class ColumnMapping:
    """Every column of a sheet with what it is taken for."""

    columns: tuple[ColumnGuess, ...]

    @property
    def choices(self) -> dict[int, str]:
        """Return what each column is taken for by its index; "" for one that is left out."""
        return {column.index: column.field or NOT_IMPORTED for column in self.columns}

    def corrected(self, choices: Mapping[int, str]) -> ColumnMapping:
        """Return the mapping with somebody's choices, by column index; "" leaves a column out.

        Raises ValueError for an unknown field, or for one chosen for two columns that can have only one.
        """
        if unknown := set(choices.values()) - {*IN_LISTS, NOT_IMPORTED}:
            raise ValueError(f"Unknown columns: {', '.join(sorted(unknown))}.")
        columns = tuple(
            replace(column, field=choices[column.index] or None, confidence=REMEMBERED, because=_("chosen by you"))
            if column.index in choices
            else column
            for column in self.columns
        )
        for field, count in Counter(column.field for column in columns if column.field).items():
            if count > 1 and not IN_LISTS[field].several:
                raise ValueError(f"{IN_LISTS[field].label} can come from one column only; {count} are chosen.")
        return ColumnMapping(columns)

    def to_remember(self) -> dict[str, str]:
        """Return normalised heading to field, to be handed to ``guess_mapping`` the next time."""
        header = [column.header for column in self.columns]
        own = own_columns(header)
        return {
            key: column.field or NOT_IMPORTED
            for key, column in zip(_keys(header), self.columns, strict=True)
            if key and column.index not in own
        }

    @property
    def names_kind(self) -> bool:
        """Say whether a column says what kind of instrument each row is; without one no row can come in."""
        return "kind" in self.choices.values()


def guess_mapping(
    *,
    header: Sequence[str],
    sample_rows: Sequence[SheetRow],
    remembered: Mapping[str, str],
    find_kind: FindKind | None = None,
) -> ColumnMapping:
    """Guess every column; a field that only one column can fill goes to the surest, then to the leftmost.

    ``remembered`` is normalised heading to field, as ``ColumnMapping.to_remember`` returned it.
    """
    guesses = []
    for index, (name, key) in enumerate(zip(header, _keys(header), strict=True)):
        sample = [row.cells[index] for row in sample_rows if index < len(row.cells) and row.cells[index]]
        guesses.append(_guess(index, name, key=key, sample=sample, remembered=remembered, find_kind=find_kind))
    for index in own_columns(header):
        guesses[index] = ColumnGuess(index, header[index], None, REMEMBERED, _("added by our list of problem rows"))
    taken: dict[str, int] = {}
    for guess in sorted(guesses, key=lambda guess: (-guess.confidence, guess.index)):
        field = guess.field
        if field in taken:
            because = _(
                "looks like %(field)s too, which comes from “%(heading)s”",
                field=IN_LISTS[field].label.lower(), heading=guesses[taken[field]].header,
            )  # fmt: skip
            field = _by_words(normal_heading(guess.header), but=taken) if guess.confidence <= SOME_WORDS else None
            if guess.field == "asset_number" and "second_number" not in taken:
                field = (
                    "second_number"  # a list with two numbers of the district's: one is ours, the other is found too
                )
            because = _("by another word in its heading") if field and field != "second_number" else because
            guesses[guess.index] = replace(guess, field=field, confidence=DOUBTFUL, because=because)
        if field and not IN_LISTS[field].several:
            taken[field] = guess.index
    return ColumnMapping(tuple(guesses))


def _keys(header: Sequence[str]) -> list[str]:
    """Return the normalised headings; the second of the same name gets a 2."""
    seen: Counter[str] = Counter()
    keys = []
    for key in map(normal_heading, header):
        seen[key] += 1
        keys.append(f"{key} {seen[key]}" if key and seen[key] > 1 else key)
    return keys


def _guess(
    index: int,
    name: str,
    *,
    key: str,
    sample: Sequence[Cell],
    remembered: Mapping[str, str],
    find_kind: FindKind | None,
) -> ColumnGuess:
    heading = normal_heading(name)
    if key in remembered:
        field = remembered[key] if remembered[key] in IN_LISTS else None
        return ColumnGuess(index, name, field, REMEMBERED, _("as you chose last time"))
    if field := BY_HEADING.get(heading):
        return _weighed(ColumnGuess(index, name, field, SAME_WORDS, _("by its heading")), sample, find_kind)
    if field := _by_words(heading):
        return _weighed(ColumnGuess(index, name, field, SOME_WORDS, _("by a word in its heading")), sample, find_kind)
    if sample and (field := _by_contents(sample, find_kind)):
        return ColumnGuess(index, name, field, ONLY_CONTENTS, _("by its contents"))
    return ColumnGuess(index, name, None, 0.0, _("not recognized") if sample else _("empty"))


def _by_words(heading: str, *, but: Collection[str] = ()) -> str | None:
    padded = f" {heading} "
    for field, words in TELLING_WORDS:
        if field not in but and any(f" {word} " in padded for word in words):
            return field
    return None


def _weighed(guess: ColumnGuess, sample: Sequence[Cell], find_kind: FindKind | None) -> ColumnGuess:
    """Let the contents speak for or against the heading."""
    field, key = guess.field, normal_heading(guess.header)
    holds = partial(_share, sample)
    if field and IN_LISTS[field].stays_out and key != "grade":
        return replace(guess, because=IN_LISTS[field].stays_out)
    if not sample:
        return replace(
            guess, confidence=guess.confidence * EMPTY, because=_("%(guess)s; it is empty", guess=guess.because)
        )
    doubtful = partial(replace, guess, confidence=DOUBTFUL)
    if key == "grade" and holds(parse_level) >= MOST:
        return replace(guess, field="level", because=_("by its contents"))
    if key == "source" and holds(parse_acquired_by) < MOST:
        return replace(guess, field="funding_source", confidence=SOME_WORDS, because=_("by its contents"))
    if field == "maker" and holds(_is_parted) >= MOST:
        return replace(guess, field="maker_model", confidence=SOME_WORDS, because=_("holds maker and model together"))
    if field == "asset_number" and len(set(map(str, sample))) < len(sample) * 0.9:
        return doubtful(because=_("by its heading, but numbers repeat in it"))
    if field == "kind" and find_kind and holds(partial(parse_kind, find_kind=find_kind)) < 1 - MOST:
        return doubtful(because=_("by its heading, but few cells name a kind of instrument"))
    if field in {"acquired_on", "out_since"} and holds(_read_date) < 1 - MOST:
        kept = field if field == "acquired_on" else None  # a column of checked-out may say who has it, or yes
        return doubtful(field=kept, because=_("by its heading, but few cells are dates"))
    if field == "year_made" and holds(_full_date) >= MOST:
        return replace(guess, field="acquired_on", confidence=SOME_WORDS, because=_("it holds dates"))
    return guess


def _by_contents(sample: Sequence[Cell], find_kind: FindKind | None) -> str | None:
    tests: dict[str, Callable[[Cell], Any]] = {
        "kind": partial(parse_kind, find_kind=find_kind) if find_kind else lambda _: None,
        "cost": lambda cell: isinstance(cell, str) and "$" in cell and any(map(str.isdigit, cell)),
        "acquired_on": _full_date,
        "acquired_by": parse_acquired_by,
        "level": parse_level,
    }
    return next((field for field, read in tests.items() if _share(sample, read) >= MOST), None)


def _is_parted(cell: Cell) -> bool:
    return isinstance(cell, str) and re.search(r"\w\s*/\s+\w|\w\s+/\s*\w", cell) is not None


def _share(sample: Sequence[Cell], read: Callable[[Cell], Any]) -> float:
    """Return which share of the cells gives a value."""
    count = 0
    for cell in sample:
        try:
            found = read(cell)
        except UnreadableError:
            continue
        count += bool(found.value if isinstance(found, Reading) else found)
    return count / len(sample)


_read_date = partial(parse_date, today=None)


def _full_date(cell: Cell) -> bool:
    if isinstance(cell, str) and not re.search(r"\d.*[/.\- ].*\d", cell):
        return False
    reading = _read_date(cell)
    return reading.value is not None and not reading.is_partial
