"""One row read by the mapping: its values, the remarks, and everything that is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, NamedTuple

from core.cells import Cell, CellTrouble, SheetRow, cell_words
from core.translation import gettext as _
from inventory.catalog.schema import Option
from inventory.columns import IN_LISTS, LOOSE_KINDS
from inventory.rules.intake.headings import normal_heading
from inventory.rules.intake.mapping import ColumnGuess, ColumnMapping
from inventory.rules.intake.nearest import nearest_kinds
from inventory.rules.intake.parse import dates, makers, money, words
from inventory.rules.intake.parse.reading import (
    AskedError,
    Reading,
    UnreadableError,
    cell_text,
    is_nothing,
    is_sign_for_nothing,
)
from inventory.rules.intake.parse.words import FindKind, loose_word
from inventory.rules.intake.skipping import why_no_instrument

# What a row says, by the keys of inventory.columns.IN_LISTS, as JSON keeps it: a date as 2019-08-01, dollars and
# percent as text, accessories as a list. What it does not say is not in it.
Values = dict[str, Any]

LONGEST_TEXT: Final = 4000  # characters of a note
LONGEST_LINE: Final = 100  # characters of everything else
QUOTED: Final = 40  # characters of a cell that a sentence repeats

# "Violin 1/2", "Bass drum 18 in": the size is part of what people write as the kind.
SIZE_IN_KIND: Final = re.compile(r"(?<![\d/])[1-7]/[248](?![\d/])|\b\d{1,2}(?:\.5)?\s*(?:\"|”|''|in\b|inch(?:es)?\b)")
# "Clarinet x 3", "2x flute", but not "Snare drum 14 x 5".
SEVERAL: Final = re.compile(r"^(\d{1,3})\s*(?:x|ea\.?)\s+(?=[a-z])|[a-z.]\s+x\s*(\d{1,3})$", re.IGNORECASE)
_GIVEN: Final = re.compile(r"\b(?:donat(?:ed|ion)|gift(?:ed)?)\b", re.IGNORECASE)
# Above a list of accessories; any other heading of this column is itself an accessory.
_NAME_WORDS: Final = frozenset(["accessories", "acc", "acces", "access", "includes", "included", "with"]) | {
    "included accessories"
}


@dataclass(frozen=True, slots=True)
class RowProblem:
    """Why a row cannot come in. ``column`` is the heading, "" where no one column is to blame."""

    number: int
    column: str
    reason: str
    asks: str = ""  # as AskedError has it: what is to be said once for the list

    @property
    def sentence(self) -> str:
        """Return where and why, ready to be read."""
        fields = {"number": self.number, "column": self.column, "reason": self.reason}
        if self.column:
            return _("Row %(number)s, column “%(column)s”: %(reason)s", **fields)
        return _("Row %(number)s: %(reason)s", **fields)


class Places(NamedTuple):
    """The schools and rooms that a row may name, by any spelling, folded with ``place_key``."""

    schools: Mapping[str, str]  # name or code to code
    rooms: Mapping[str, Mapping[str, str]]  # school code to room's name to the name as it is kept
    own_school: str  # code; for rows that name none


def place_key(text: str) -> str:
    """Return a school's or room's name as it is compared."""
    return normal_heading(text).removeprefix("room ").removeprefix("rm ")


class Answers(NamedTuple):
    """What somebody said about a list, once for all its rows."""

    kinds: Mapping[str, str] = {}  # loose word to the kind's code
    orders: Mapping[int, str] = {}  # column's index to the order of its dates (DateOrder)


NO_ANSWERS: Final = Answers()


class RowReading(NamedTuple):
    values: Values
    notes: tuple[str, ...]
    problems: tuple[RowProblem, ...]


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
        answers: Answers = NO_ANSWERS,
        kind_names: Mapping[str, str] | None = None,
        known_makers: Mapping[str, str] | None = None,
    ) -> None:
        """``kind_words`` is word to kind's name, from which the nearest is suggested for an unknown one.

        ``longest`` is how many characters the register keeps of a value, by the value's key. ``kind_names`` is code to
        name of the kinds that a loose word may mean. ``known_makers`` is as ``part_maker_model`` takes it.
        """
        self.header = [column.header for column in mapping.columns]
        self._columns = [(column, IN_LISTS[column.field]) for column in mapping.columns if column.field]
        self._headings = {column.field: column.header for column, _ in reversed(self._columns)}
        self._longest, self._places, self._today = longest or {}, places, today
        self._find_kind, self._kind_words = find_kind, kind_words
        self._answers, self._kind_names, self._makers = answers, kind_names or {}, known_makers or {}
        self._at = {column.field: column.index for column in reversed(mapping.columns) if column.field}
        self._kinds: dict[str, Reading[str | None]] = {}
        self._unknown: dict[str, str] = {}
        self._take: dict[str, Callable[[ColumnGuess, Cell, Values], str]] = {
            "kind": self._take_kind,
            "maker_model": self._take_maker_model,
            "text": _take_text,
            "note": _take_note,
            "accessories": _take_accessories,
            "quantity": _refuse_several,
            "nothing": lambda *_: "",
        }

    def why_skipped(self, row: SheetRow, *, is_below: bool) -> str:
        """Say why the row stands for no instrument; "" where it may be one. ``is_below`` says that a sum came before."""
        return why_no_instrument(row, header=self.header, columns=self._at, is_below=is_below)

    def read(self, row: SheetRow) -> RowReading:
        """Read every mapped cell; nothing is raised, what is wrong is among the problems."""
        found: Values = {}
        notes: list[str] = []
        problems: list[RowProblem] = []
        for column, declared in self._columns:
            cell: Cell = row.cells[column.index] if column.index < len(row.cells) else ""
            if cell == "":
                continue
            try:
                take = self._take.get(declared.reads)
                note = take(column, cell, found) if take else self._take_read(column, declared.reads, cell, found)
                notes += [note] if note else []
            except UnreadableError as error:
                if declared.may_be_noted and not isinstance(cell, CellTrouble):
                    text = f"{column.header}: {cell_words(cell)}"
                    _add_line(found, "notes", text)
                    notes.append(_("“%(text)s” is kept in the notes; it %(trouble)s", text=_short(text), trouble=error))
                    continue
                quoted = _("the cell") if isinstance(cell, CellTrouble) else f"“{_short(cell_words(cell))}”"
                end = "" if str(error).endswith("?") else "."
                asks = error.asks if isinstance(error, AskedError) else ""
                problems.append(RowProblem(row.number, column.header, f"{quoted} {error}{end}", asks))
        problems += self._unfit(row, found, {problem.column for problem in problems})
        problems += self._place(row, found, notes)
        if way := _way_it_came(found):
            found["acquired_by"] = way
            notes.append(_("kept as a gift") if way == "gift" else _("has a price, so it was bought"))
        return RowReading(found, tuple(notes), tuple(problems))

    def problem(self, row: SheetRow, field: str, reason: str) -> RowProblem:
        return RowProblem(row.number, self._headings.get(field, ""), reason)

    def _unfit(self, row: SheetRow, found: Values, blamed: set[str]) -> Iterator[RowProblem]:
        """Yield what the register cannot keep: no kind, text too long for it, a number unfit for an address."""
        if "kind" not in found and self._headings.get("kind") not in blamed:
            is_alone = sum(cell != "" for cell in row.cells) == 1
            why = _("this looks like a heading or a total. Delete the row or enter a kind.") if is_alone else ""
            yield self.problem(row, "kind", why or _("the kind of instrument is missing."))
        for name, most in self._longest.items():
            if len(text := str(found.get(name, ""))) > most:
                reason = _("“%(text)s” is longer than %(most)s characters. Shorten it.", text=_short(text), most=most)
                yield self.problem(row, name, reason)
        number = found.get("asset_number", "")
        if "/" in number or "\\" in number:
            reason = _(
                "asset number “%(number)s” has a slash, which a web address cannot have. Use a hyphen.",
                number=_short(number),
            )
            yield self.problem(row, "asset_number", reason)
        if found.get("cost", "").startswith("-"):
            yield self.problem(row, "cost", _("the cost is below zero (%(cost)s).", cost=found["cost"]))

    def _place(self, row: SheetRow, found: Values, notes: list[str]) -> Iterator[RowProblem]:
        """Put the school's code and the room's own spelling in place of what the row says."""
        named = found.get("school", "")
        code = self._places.schools.get(place_key(named), "") if named else self._places.own_school
        if not code:
            reason = _("the school is missing.")
            if named:
                reason = _("“%(name)s” is not one of your schools.", name=_short(named))
            yield self.problem(row, "school", reason)
            return
        found["school"] = code
        if room := found.get("room"):
            known = self._places.rooms.get(code, {}).get(place_key(room))
            found["room"] = known or room
            notes += [] if known else [_("Room “%(room)s” is new at this school", room=room)]

    def _take_read(self, column: ColumnGuess, reads: str, cell: Cell, found: Values) -> str:
        order = self._answers.orders.get(column.index, "")
        if reads in {"date", "due"}:
            until = self._today if reads == "date" else None
            reading: Reading[Any] = dates.parse_date(cell, today=until, order=order)
        else:
            reading = READERS[reads](cell, self._today)
        value = reading.value
        if reads == "number" and len(value) > LONGEST_LINE:
            raise UnreadableError(_("is longer than %(most)s characters", most=LONGEST_LINE))
        if value not in (None, ""):
            found[str(column.field)] = value if isinstance(value, int) else str(value)
        if reads == "money" and money.says_free(cell):
            found["is_free"] = True
        return f"{column.header}: {reading.note}" if reading.note else ""

    def _take_maker_model(self, column: ColumnGuess, cell: Cell, found: Values) -> str:
        """Part the cell; what the list said stays in the notes."""
        text = cell_text(cell)
        if len(text) > LONGEST_LINE:
            raise UnreadableError(_("is longer than %(most)s characters", most=LONGEST_LINE))
        parted = makers.part_maker_model(text, makers=self._makers)
        for field, value in zip(("maker", "model"), parted, strict=True):
            if value:
                found.setdefault(field, value)
        if not any(parted):
            return ""
        _add_line(found, "as_listed", f"{column.header}: {text}")
        read = {"text": _short(text), "maker": parted.maker or "–", "model": parted.model or "–"}
        return _("“%(text)s” is read as maker %(maker)s, model %(model)s", **read)

    def _take_kind(self, column: ColumnGuess, cell: Cell, found: Values) -> str:
        text = cell_text(cell)
        if several := SEVERAL.search(text):
            _refuse_several(column, several[1] or several[2], found)
        if text not in self._kinds:
            self._kinds[text] = self._kind_meant(text)
        reading = self._kinds[text]
        if reading.value:
            found["kind"] = reading.value
            if reading.note and (size := SIZE_IN_KIND.search(text)):
                found.setdefault("size", words.parse_size(size[0]).value)
            return reading.note
        if is_nothing(text):
            return ""
        if text not in self._unknown:
            nearest = nearest_kinds(text, self._kind_words, most=1)
            hint = _("Check the spelling")
            if nearest:
                hint = _("Did you mean “%(kind)s”?", kind=nearest[0])
            self._unknown[text] = _("is not a kind of instrument we know. %(hint)s", hint=hint)
        raise UnreadableError(self._unknown[text])

    def _kind_meant(self, text: str) -> Reading[str | None]:
        """Return the kind. A loose word is what was answered for it; AskedError where nothing was."""
        word = loose_word(text, find_kind=self._find_kind, loose=LOOSE_KINDS)
        if not word or not self._kind_names:
            return words.parse_kind(text, find_kind=self._find_kind)
        if word not in self._answers.kinds:
            kinds = " / ".join(self._kind_names.get(code, code) for code in LOOSE_KINDS[word])
            raise AskedError(_("may be %(kinds)s; say which for the whole list", kinds=kinds), asks=f"kind:{word}")
        code = self._answers.kinds[word]
        return Reading(code, _("“%(text)s” is kept as %(kind)s", text=text, kind=self._kind_names.get(code, code)))


# How the cells of a column are read that gives one value, by what its declaration says; dates have an order besides.
READERS: Final[dict[str, Callable[[Cell, date], Reading[Any]]]] = {
    "number": lambda cell, _: words.parse_serial(cell),
    "level": lambda cell, _: words.parse_level(cell),
    "year": lambda cell, today: dates.parse_year(cell, today=today),
    "size": lambda cell, _: words.parse_size(cell),
    "valves": lambda cell, _: words.parse_valves(cell),
    "key": lambda cell, _: words.parse_key(cell),
    "acquired_by": lambda cell, _: words.parse_acquired_by(cell),
    "money": lambda cell, _: money.parse_money(cell),
    "share": lambda cell, _: money.parse_share(cell),
}


def _short(text: str) -> str:
    return text if len(text) <= QUOTED else f"{text[: QUOTED - 1]}…"


def _add_line(found: Values, field: str, text: str) -> None:
    found[field] = f"{found[field]}\n{text}" if field in found else text


def _take_text(column: ColumnGuess, cell: Cell, found: Values) -> str:
    text = cell_text(cell)
    if len(text) > LONGEST_LINE:
        raise UnreadableError(_("is longer than %(most)s characters", most=LONGEST_LINE))
    if not is_nothing(text):
        found[str(column.field)] = text
    return ""


def _way_it_came(found: Values) -> str:
    """Return how it was acquired where the row says so by something else; "" where it says that itself, or nothing."""
    is_free = found.pop("is_free", False)
    if "acquired_by" in found:
        return ""
    words_of_it = " ".join(str(found.get(name, "")) for name in ("funding_source", "notes", "condition"))
    if is_free or "donor" in found or _GIVEN.search(words_of_it):
        return "gift"
    return "bought" if found.get("cost", "0").strip("0.") and not found["cost"].startswith("-") else ""


def _take_note(column: ColumnGuess, cell: Cell, found: Values) -> str:
    text = cell.strip() if isinstance(cell, str) else cell_text(cell)
    if len(text) > LONGEST_TEXT:
        raise UnreadableError(_("is longer than %(most)s characters", most=f"{LONGEST_TEXT:,}"))
    if not is_sign_for_nothing(text):
        field = str(column.field)
        _add_line(found, field, f"{column.header}: {text}" if field in found else text)
    return ""


def _take_accessories(column: ColumnGuess, cell: Cell, found: Values) -> str:
    names_one = normal_heading(column.header) not in _NAME_WORDS
    if names_one and words.says_no(cell):
        _add_line(found, "condition", f"{column.header}: {cell_text(cell)}")
    elif items := words.parse_accessories(cell, header=column.header, names_one=names_one):
        found["accessories"] = [*found.get("accessories", ()), *items]
    return ""


def _refuse_several(_column: ColumnGuess, cell: Cell, _found: Values) -> str:
    if (count := re.fullmatch(r"(\d+)(?:\.0*)?", cell_text(cell))) and int(count[1]) > 1:
        raise UnreadableError(
            _("says that the row stands for %(count)s instruments. Give each its own row", count=count[1])
        )
    return ""


# In the register's words


def fit_options(values: Values, *, options: Iterable[Option], key: str) -> tuple[dict[str, str], list[str]]:
    """Return a choice for each option of the kind, and what could not be one of them; ``key`` is the kind's own."""
    offered = {option.code: option for option in options}
    chosen = {option.code: option.default for option in offered.values()}
    left = []
    for code in ("size", "valves", "key"):
        typed = str(values.get(code, ""))
        choices = offered[code].choices if code in offered else ()
        found = next((choice for choice in choices if _folded(choice) == _folded(typed)), "")
        if typed and found:
            chosen[code] = found
        elif typed and (code != "key" or _folded(typed) != _folded(key)):
            left.append(f"{IN_LISTS[code].label}: {typed}")
    return chosen, left


def notes_of(values: Values, *, left: Sequence[str], most: int) -> str:
    """Return the notes: the row's own, then what has no place of its own. At most ``most`` characters."""
    lines = [values.get("notes"), *left]
    if "as_listed" in values:
        lines.append(_("In the list, %(words)s", words=values["as_listed"]))
    if "accessories" in values:
        lines.append(_("Accessories in the list: %(words)s", words=", ".join(values["accessories"])))
    text = "\n".join(filter(None, lines))
    return text if len(text) <= most else f"{text[: most - 1]}…"


def remarks_of(values: Values, *, longest: int) -> list[str]:
    """Return what the list says of the instrument's condition, one remark for each line."""
    lines = (line.strip() for line in str(values.get("condition", "")).splitlines())
    return [line if len(line) <= longest else f"{line[: longest - 1]}…" for line in lines if line]


def _folded(text: str) -> str:
    return "".join(text.casefold().split())
