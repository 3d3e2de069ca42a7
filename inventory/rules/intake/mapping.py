"""Guessing which column holds what: from what was said last time, the heading, and the contents."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from core.sheets.cells import Cell, SheetRow
from inventory.columns import TELLING_WORDS
from inventory.rules.intake.fields import (
    BY_HEADING,
    MANY_COLUMNS,
    STAYS_OUT,
    IntakeField,
    normal_heading,
    own_columns,
)
from inventory.rules.intake.parse import (
    FindKind,
    UnreadableError,
    parse_acquired_by,
    parse_date,
    parse_kind,
    parse_level,
)

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
    field: IntakeField | None
    confidence: float  # 0 to 1
    because: str  # for the person who checks it


@dataclass(frozen=True, slots=True)
class ColumnMapping:
    """Every column of a sheet with what it is taken for."""

    columns: tuple[ColumnGuess, ...]

    def of(self, field: IntakeField) -> tuple[ColumnGuess, ...]:
        """Return the columns of this field, from left to right."""
        return tuple(column for column in self.columns if column.field is field)

    def corrected(self, choices: Mapping[int, str]) -> ColumnMapping:
        """Return the mapping with somebody's choices, by column index; "" leaves a column out.

        Raises ValueError for an unknown field, or for one chosen for two columns that can have only one.
        """
        columns = tuple(
            replace(
                column,
                field=IntakeField(choices[column.index]) if choices[column.index] else None,
                confidence=REMEMBERED,
                because="chosen by you",
            )
            if column.index in choices
            else column
            for column in self.columns
        )
        counts = Counter(column.field for column in columns if column.field and column.field not in MANY_COLUMNS)
        for field, count in counts.items():
            if count > 1:
                message = f"{field.label} can come from one column only; {count} are chosen."
                raise ValueError(message)
        return ColumnMapping(columns)

    def to_remember(self) -> dict[str, str]:
        """Return normalised heading to field, to be handed to ``guess_mapping`` the next time."""
        own = own_columns([column.header for column in self.columns])
        return {
            key: column.field.value if column.field else NOT_IMPORTED
            for key, column in zip(_keys([column.header for column in self.columns]), self.columns, strict=True)
            if key and column.index not in own
        }

    def gaps(self) -> tuple[str, ...]:
        """Return what keeps every row from coming in, in sentences."""
        if not self.of(IntakeField.KIND):
            return ("No column says what kind of instrument each row is. Choose the column that does.",)
        return ()


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
    samples = [_sample(sample_rows, index) for index in range(len(header))]
    guesses = [
        _guess(index, name, key=key, sample=samples[index], remembered=remembered, find_kind=find_kind)
        for index, (name, key) in enumerate(zip(header, _keys(header), strict=True))
    ]
    for index in own_columns(header):
        guesses[index] = ColumnGuess(index, header[index], None, REMEMBERED, "added by our list of problem rows")
    taken: dict[IntakeField, int] = {}
    for guess in sorted(guesses, key=lambda guess: (-guess.confidence, guess.index)):
        if guess.field is None or guess.field in MANY_COLUMNS:
            continue
        if guess.field in taken:
            first = guesses[taken[guess.field]]
            other = _by_words(normal_heading(guess.header), but=taken) if guess.confidence <= SOME_WORDS else None
            guesses[guess.index] = replace(
                guess,
                field=other,
                confidence=DOUBTFUL,
                because="by another word in its heading"
                if other
                else f"looks like {guess.field.label.lower()} too, which is taken from “{first.header}”",
            )
            if other and other not in MANY_COLUMNS:
                taken[other] = guess.index
        else:
            taken[guess.field] = guess.index
    return ColumnMapping(tuple(guesses))


def _keys(header: Sequence[str]) -> list[str]:
    """Return the normalised headings; the second of the same name gets a 2."""
    seen: Counter[str] = Counter()
    keys = []
    for name in header:
        key = normal_heading(name)
        seen[key] += 1
        keys.append(f"{key} {seen[key]}" if key and seen[key] > 1 else key)
    return keys


def _sample(rows: Sequence[SheetRow], index: int) -> list[Cell]:
    return [row.cells[index] for row in rows if index < len(row.cells) and row.cells[index]]


def _guess(
    index: int,
    name: str,
    *,
    key: str,
    sample: Sequence[Cell],
    remembered: Mapping[str, str],
    find_kind: FindKind | None,
) -> ColumnGuess:
    if key in remembered:
        field = IntakeField(remembered[key]) if remembered[key] in set(IntakeField) else None
        return ColumnGuess(index, name, field, REMEMBERED, "as you chose the last time")
    if field := BY_HEADING.get(normal_heading(name)):
        return _weighed(ColumnGuess(index, name, field, SAME_WORDS, "by its heading"), sample, find_kind)
    if field := _by_words(normal_heading(name)):
        return _weighed(ColumnGuess(index, name, field, SOME_WORDS, "by a word in its heading"), sample, find_kind)
    if sample and (field := _by_contents(sample, find_kind)):
        return ColumnGuess(index, name, field, ONLY_CONTENTS, "by what it holds")
    because = "not recognized" if sample else "empty"
    return ColumnGuess(index, name, None, 0.0, because)


def _by_words(key: str, *, but: Collection[IntakeField] = ()) -> IntakeField | None:
    padded = f" {key} "
    for code, words in TELLING_WORDS:
        field = IntakeField(code)
        if field in but:
            continue
        if any(f" {word} " in padded for word in words):
            return field
    return None


def _weighed(guess: ColumnGuess, sample: Sequence[Cell], find_kind: FindKind | None) -> ColumnGuess:
    """Let the contents speak for or against the heading."""
    field, key = guess.field, normal_heading(guess.header)
    if field in STAYS_OUT and field is not None and key != "grade":
        return replace(guess, because=STAYS_OUT[field])
    if not sample:
        return replace(guess, confidence=guess.confidence * EMPTY, because=f"{guess.because}; it is empty")
    if key == "grade" and _share(sample, _is_level) >= MOST:
        return replace(guess, field=IntakeField.LEVEL, because="by what it holds")
    if key == "source" and _share(sample, _is_way_of_coming) < MOST:
        return replace(guess, field=IntakeField.FUNDING_SOURCE, confidence=SOME_WORDS, because="by what it holds")
    if key in {"make and model", "make model", "brand model"}:
        return replace(guess, confidence=SOME_WORDS, because="holds maker and model together; kept as the model")
    if field is IntakeField.ASSET_NUMBER and len(set(map(str, sample))) < len(sample) * 0.9:
        return replace(guess, confidence=DOUBTFUL, because="by its heading, but numbers repeat in it")
    if field is IntakeField.KIND and find_kind and _share(sample, _names_kind(find_kind)) < 1 - MOST:
        return replace(guess, confidence=DOUBTFUL, because="by its heading, but few cells name a kind of instrument")
    if field is IntakeField.ACQUIRED_ON and _share(sample, _is_date) < 1 - MOST:
        return replace(guess, confidence=DOUBTFUL, because="by its heading, but few cells are dates")
    if field is IntakeField.YEAR_MADE and _share(sample, _is_full_date) >= MOST:
        return replace(guess, field=IntakeField.ACQUIRED_ON, confidence=SOME_WORDS, because="it holds dates")
    return guess


def _by_contents(sample: Sequence[Cell], find_kind: FindKind | None) -> IntakeField | None:
    if find_kind and _share(sample, _names_kind(find_kind)) >= MOST:
        return IntakeField.KIND
    if _share(sample, _has_dollar_sign) >= MOST:
        return IntakeField.COST
    if _share(sample, _is_full_date) >= MOST:
        return IntakeField.ACQUIRED_ON
    if _share(sample, _is_way_of_coming) >= MOST:
        return IntakeField.ACQUIRED_BY
    if _share(sample, _is_level) >= MOST:
        return IntakeField.LEVEL
    return None


def _share(sample: Sequence[Cell], is_such: Callable[[Cell], bool]) -> float:
    return sum(map(is_such, sample)) / len(sample)


def _names_kind(find_kind: FindKind) -> Callable[[Cell], bool]:
    def names_kind(cell: Cell) -> bool:
        return isinstance(cell, str) and parse_kind(cell, find_kind=find_kind).value is not None

    return names_kind


def _has_dollar_sign(cell: Cell) -> bool:
    return isinstance(cell, str) and "$" in cell and any(map(str.isdigit, cell))


def _is_date(cell: Cell) -> bool:
    try:
        return parse_date(cell, today=None).value is not None
    except UnreadableError:
        return False


def _is_full_date(cell: Cell) -> bool:
    if isinstance(cell, str) and not re.search(r"\d.*[/.\- ].*\d", cell):
        return False
    try:
        reading = parse_date(cell, today=None)
    except UnreadableError:
        return False
    return reading.value is not None and not reading.is_partial


def _is_way_of_coming(cell: Cell) -> bool:
    try:
        return bool(parse_acquired_by(cell).value)
    except UnreadableError:
        return False


def _is_level(cell: Cell) -> bool:
    try:
        return bool(parse_level(cell).value)
    except UnreadableError:
        return False
