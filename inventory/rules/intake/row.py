"""One row read by the mapping: its values, the remarks, and everything that is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from typing import Any, Final

from core.sheets.cells import Cell, CellTrouble, SheetRow
from inventory.rules.intake.fields import IntakeField, normal_heading
from inventory.rules.intake.mapping import ColumnGuess, ColumnMapping
from inventory.rules.intake.parse import (
    FindKind,
    Reading,
    UnreadableError,
    cell_text,
    is_nothing,
    is_sign_for_nothing,
    parse_accessories,
    parse_acquired_by,
    parse_date,
    parse_key,
    parse_kind,
    parse_level,
    parse_money,
    parse_serial,
    parse_share,
    parse_size,
    parse_valves,
    parse_year,
)
from inventory.rules.intake.values import IntakeValues

LONGEST_TEXT: Final = 4000  # characters of a note
LONGEST_LINE: Final = 100  # characters of everything else
QUOTED: Final = 40  # characters of a cell that a sentence repeats

# What these say is kept in the notes when it cannot be read: no reason to keep a horn out of the register.
_SOFT: Final = frozenset({IntakeField.LEVEL, IntakeField.VALVES, IntakeField.KEY, IntakeField.ACQUIRED_BY})
# "Violin 1/2", "Bass drum 18 in": the size is part of what people write as the kind.
SIZE_IN_KIND: Final = re.compile(r"(?<![\d/])[1-7]/[248](?![\d/])|\b\d{1,2}(?:\.5)?\s*(?:\"|”|''|in\b|inch(?:es)?\b)")
# "Clarinet x 3", "2x flute", but not "Snare drum 14 x 5".
SEVERAL: Final = re.compile(r"^(\d{1,3})\s*(?:x|ea\.?)\s+(?=[a-z])|[a-z.]\s+x\s*(\d{1,3})$", re.IGNORECASE)
_LONG: Final = frozenset({IntakeField.NOTES, IntakeField.CONDITION})
_NAME_WORDS: Final = frozenset(
    {"accessories", "acc", "acces", "access", "includes", "included", "with", "included accessories"}
)


@dataclass(frozen=True, slots=True)
class RowProblem:
    """Why a row cannot come in. ``column`` is the heading, "" where no one column is to blame."""

    number: int
    column: str
    reason: str

    @property
    def sentence(self) -> str:
        """Return where and why, ready to be read."""
        where = f"Row {self.number}, column “{self.column}”" if self.column else f"Row {self.number}"
        return f"{where}: {self.reason}"


@dataclass(frozen=True, slots=True)
class Places:
    """The schools and rooms that a row may name, by any spelling, folded with ``place_key``."""

    schools: Mapping[str, str]  # name or code to code
    rooms: Mapping[str, Mapping[str, str]]  # school code to room's name to the name as it is kept
    own_school: str  # code; for rows that name none


def place_key(text: str) -> str:
    """Return a school's or room's name as it is compared."""
    return normal_heading(text).removeprefix("room ").removeprefix("rm ")


@dataclass(frozen=True, slots=True)
class RowReading:
    values: IntakeValues
    notes: tuple[str, ...]
    problems: tuple[RowProblem, ...]
    columns: Mapping[IntakeField, str]  # heading of each mapped field


class RowReader:
    """Reads rows of one sheet; remembers the kinds it has met so that 20,000 rows ask for each word once."""

    def __init__(
        self,
        *,
        mapping: ColumnMapping,
        find_kind: FindKind,
        kind_words: Mapping[str, str],
        places: Places,
        today: date,
        longest: Mapping[str, int] | None = None,
    ) -> None:
        """``kind_words`` is word to kind's name, from which the nearest is suggested for an unknown one.

        ``longest`` is how many characters the register keeps of a value, by the value's name.
        """
        self._longest = longest or {}
        self._columns = [column for column in mapping.columns if column.field is not None]
        self._headings = {column.field: column.header for column in reversed(self._columns) if column.field}
        self._find_kind = find_kind
        self._kind_words = kind_words
        self._places = places
        self._today = today
        self._kinds: dict[str, Reading[str | None]] = {}
        self._unknown: dict[str, str] = {}

    def read(self, row: SheetRow) -> RowReading:
        """Read every mapped cell; nothing is raised, what is wrong is among the problems."""
        found: dict[str, Any] = {}
        notes: list[str] = []
        problems: list[RowProblem] = []
        for column in self._columns:
            cell: Cell = row.cells[column.index] if column.index < len(row.cells) else ""
            if cell == "":
                continue
            try:
                note = self._take(column, cell, found)
            except UnreadableError as error:
                if column.field in _SOFT and not isinstance(cell, CellTrouble):
                    text = f"{column.header}: {cell_text(cell)}"
                    found["notes"] = f"{found['notes']}\n{text}" if "notes" in found else text
                    notes.append(f"“{_short(text)}” is kept in the notes; it {error}")
                    continue
                quoted = "the cell" if isinstance(cell, CellTrouble) else f"“{_short(cell_text(cell))}”"
                problems.append(RowProblem(row.number, column.header, f"{quoted} {error}."))
            else:
                notes += [note] if note else []
        if "kind" not in found and not any(p.column == self._headings.get(IntakeField.KIND) for p in problems):
            problems.append(self._no_kind(row))
        self._add_place(row, found, notes, problems)
        problems += self._unfit(row, found)
        cost = found.get("cost_amount")
        if isinstance(cost, Decimal) and cost < 0:
            problems.append(self._problem(row, IntakeField.COST, f"the cost is below zero ({cost})."))
        is_given = found.pop("is_free", False) or "donor" in found
        if is_given and "acquired_by" not in found:
            found["acquired_by"] = "gift"
            notes.append("kept as a gift")
        return RowReading(IntakeValues(**found), tuple(notes), tuple(problems), self._headings)

    def _unfit(self, row: SheetRow, found: Mapping[str, Any]) -> Iterator[RowProblem]:
        """Yield what the register cannot keep: text too long for it, a number that cannot stand in an address."""
        for name, most in self._longest.items():
            text = found.get(name, "")
            if isinstance(text, str) and len(text) > most:
                yield self._problem(
                    row, IntakeField(name), f"“{_short(text)}” is longer than {most} characters. Shorten it."
                )
        number = found.get("asset_number", "")
        if "/" in number or "\\" in number:
            reason = f"asset number “{_short(number)}” has a slash, which cannot stand in its address. Write a hyphen."
            yield self._problem(row, IntakeField.ASSET_NUMBER, reason)

    def _problem(self, row: SheetRow, field: IntakeField, reason: str) -> RowProblem:
        return RowProblem(row.number, self._headings.get(field, ""), reason)

    def _no_kind(self, row: SheetRow) -> RowProblem:
        filled = sum(1 for cell in row.cells if cell != "")
        if filled == 1:
            return self._problem(
                row, IntakeField.KIND, "this looks like a heading or a total. Delete the row, or say what kind it is."
            )
        return self._problem(row, IntakeField.KIND, "no kind of instrument is given.")

    def _take(self, column: ColumnGuess, cell: Cell, found: dict[str, Any]) -> str:
        """Put the cell's value where it belongs and return a note; UnreadableError if it cannot be read."""
        field = column.field
        if field is IntakeField.KIND:
            return self._take_kind(cell, found)
        if field is IntakeField.ACCESSORIES:
            names_one = normal_heading(column.header) not in _NAME_WORDS
            items = parse_accessories(cell, header=column.header, names_one=names_one)
            found["accessories"] = (*found.get("accessories", ()), *items)
            return ""
        reader = _READERS.get(field) if field else None
        if reader is not None:
            name, read = reader
            reading = read(cell, self._today)
            if reading.value not in (None, ""):
                found[name] = reading.value
            if field is IntakeField.COST and reading.note.endswith("kept as no cost"):
                found["is_free"] = True
            return f"{column.header}: {reading.note}" if reading.note else ""
        if field is IntakeField.QUANTITY and (count := re.fullmatch(r"(\d+)(?:\.0*)?", cell_text(cell))):
            if int(count[1]) > 1:
                message = f"says that the row stands for {count[1]} instruments. Give each a row of its own"
                raise UnreadableError(message)
            return ""
        if field in _TEXTS:
            _take_text(column, field, cell, found)
        return ""

    def _take_kind(self, cell: Cell, found: dict[str, Any]) -> str:
        text = cell_text(cell)
        if (several := SEVERAL.search(text)) and int(several[1] or several[2]) > 1:
            count = several[1] or several[2]
            message = f"says that the row stands for {count} instruments. Give each a row of its own"
            raise UnreadableError(message)
        if text not in self._kinds:
            self._kinds[text] = parse_kind(text, find_kind=self._find_kind)
        reading = self._kinds[text]
        if reading.value:
            found["kind"] = reading.value
            if reading.note and (size := SIZE_IN_KIND.search(text)):
                found.setdefault("size", parse_size(size[0]).value)
            return reading.note
        if is_nothing(text):
            return ""
        if text not in self._unknown:
            nearest = get_close_matches(text.casefold(), self._kind_words, n=1, cutoff=0.6)
            hint = (
                f"The nearest is “{self._kind_words[nearest[0]]}”" if nearest else "Write it as the list of kinds does"
            )
            self._unknown[text] = f"is not a kind of instrument that is known. {hint}"
        raise UnreadableError(self._unknown[text])

    def _add_place(self, row: SheetRow, found: dict[str, Any], notes: list[str], problems: list[RowProblem]) -> None:
        named = found.get("school", "")
        code = self._places.schools.get(place_key(named), "") if named else self._places.own_school
        if not code:
            reason = f"“{_short(named)}” is not one of your schools." if named else "no school is given."
            problems.append(self._problem(row, IntakeField.SCHOOL, reason))
            return
        found["school"] = code
        room = found.get("room", "")
        if room:
            known = self._places.rooms.get(code, {}).get(place_key(room))
            found["room"] = known or room
            notes += [] if known else [f"Room “{room}” is new at this school"]


def _short(text: str) -> str:
    return text if len(text) <= QUOTED else f"{text[: QUOTED - 1]}…"


def _take_text(column: ColumnGuess, field: IntakeField | None, cell: Cell, found: dict[str, Any]) -> None:
    text = cell_text(cell) if field not in _LONG or not isinstance(cell, str) else cell.strip()
    if is_sign_for_nothing(text) if field in _LONG else is_nothing(text):
        return
    longest = LONGEST_TEXT if field in _LONG else LONGEST_LINE
    if len(text) > longest:
        message = f"is longer than {longest:,} characters"
        raise UnreadableError(message)
    name = field.value if field else ""
    if field in _LONG and name in found:
        text = f"{found[name]}\n{column.header}: {text}"
    found[name] = text


_TEXTS: Final = frozenset(
    {
        IntakeField.MAKER,
        IntakeField.MODEL,
        IntakeField.FUNDING_SOURCE,
        IntakeField.TITLE_HOLDER,
        IntakeField.DONOR,
        IntakeField.SCHOOL,
        IntakeField.ROOM,
        IntakeField.CONDITION,
        IntakeField.NOTES,
    }
)


def _limited(cell: Cell, _today: date) -> Reading[str]:
    reading = parse_serial(cell)
    if len(reading.value) > LONGEST_LINE:
        message = f"is longer than {LONGEST_LINE} characters"
        raise UnreadableError(message)
    return reading


_READERS: Final[dict[IntakeField, tuple[str, Callable[[Cell, date], Reading[Any]]]]] = {
    IntakeField.ASSET_NUMBER: ("asset_number", _limited),
    IntakeField.SERIAL: ("serial", _limited),
    IntakeField.AWARD_NUMBER: ("award_number", _limited),
    IntakeField.LEVEL: ("level", lambda cell, _: parse_level(cell)),
    IntakeField.YEAR_MADE: ("year_made", lambda cell, today: parse_year(cell, today=today)),
    IntakeField.SIZE: ("size", lambda cell, _: parse_size(cell)),
    IntakeField.VALVES: ("valves", lambda cell, _: parse_valves(cell)),
    IntakeField.KEY: ("key", lambda cell, _: parse_key(cell)),
    IntakeField.ACQUIRED_BY: ("acquired_by", lambda cell, _: parse_acquired_by(cell)),
    IntakeField.ACQUIRED_ON: ("acquired_on", lambda cell, today: parse_date(cell, today=today)),
    IntakeField.COST: ("cost_amount", lambda cell, _: parse_money(cell)),
    IntakeField.FEDERAL_SHARE: ("federal_share", lambda cell, _: parse_share(cell)),
}
