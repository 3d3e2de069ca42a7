"""Which rows are new, which are here already, and what is wrong with the rest."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Final, NamedTuple

from core.cells import Cell, CellTrouble, SheetRow
from core.translation import gettext as _
from inventory.columns import MARK_COLUMN, PROBLEM_COLUMN, ROW_COLUMN
from inventory.rules.intake.headings import own_columns
from inventory.rules.intake.parse.words import name_key, serial_key
from inventory.rules.intake.row import RowProblem, RowReader, Values
from inventory.rules.numbers import number_key

LONGEST_MARK: Final = 36  # our own are shorter; with what stands before it, what a stored fingerprint holds


class RowState(StrEnum):
    NEW = "new"
    ALREADY_HERE = "already_here"
    PROBLEM = "problem"
    SKIPPED = "skipped"  # a sum, a count below the list, a heading inside it


class KnownInstrument(NamedTuple):
    """What tells an instrument of the register from others."""

    asset_number: str
    kind: str
    maker: str
    serial: str
    is_elsewhere: bool = False  # at a school that the sender does not see: nothing of it is told
    second_number: str = ""


class KnownFleet(NamedTuple):
    """The register as the judge needs it: every instrument of the district, and what imports wrote before."""

    instruments: Iterable[KnownInstrument] = ()
    fingerprints: Collection[str] = frozenset()  # of rows that came in


@dataclass(frozen=True, slots=True)
class RowJudgement:
    """The answer for one row. ``fingerprint`` is to be stored with the instrument that the row becomes."""

    number: int
    state: RowState
    values: Values
    fingerprint: str = ""
    problems: tuple[RowProblem, ...] = ()
    notes: tuple[str, ...] = ()  # what was decided in reading it
    match: str = ""  # asset number of the instrument that it is, where it is here already
    cells: tuple[Cell, ...] = ()  # the row as it was sent

    @property
    def column(self) -> str:
        """Return the heading of the first problem's column."""
        return self.problems[0].column if self.problems else ""

    @property
    def reason(self) -> str:
        """Return why, in plain words; "" for a new row."""
        if self.problems:
            return " ".join(problem.reason for problem in self.problems)
        if self.state is RowState.ALREADY_HERE:
            if self.match:
                return _("Already registered as %(number)s.", number=self.match)
            return _("This row was imported before.")
        return self.notes[0] if self.state is RowState.SKIPPED else ""


def judge_rows(
    *,
    rows: Iterable[SheetRow],
    reader: RowReader,
    known: KnownFleet,
    earlier: Iterable[RowJudgement] = (),
) -> Iterator[RowJudgement]:
    """Judge row by row, in the order of the file; nothing is kept but the numbers seen.

    A row without serial and asset number is recognized by how many like it came in before: the third
    of four like trumpets is here already when three came in. A row of our own list of problem
    rows carries a mark, which is recognized instead.

    ``earlier`` are the judgements of the rows before these, so that a file can be judged piece by piece with the
    same answers; of their values only maker, serial and asset number count.
    """
    judge = _Judge(known, reader)
    for judgement in earlier:
        judge.remember(judgement)
    for row in rows:
        yield judge.judge(row)


def _mark_in(row: SheetRow, header: Sequence[str]) -> str:
    """Return the mark that our own list of problem rows put on the row; one that is not ours is cut to fit."""
    index = header.index(MARK_COLUMN) if MARK_COLUMN in header else len(row.cells)
    return str(row.cells[index])[:LONGEST_MARK] if index < len(row.cells) else ""


def row_mark(row: SheetRow) -> str:
    """Return what tells a problem row from every other row when it is sent again."""
    content = "\x1f".join(repr(cell) for cell in row.cells)
    return f"R{row.number}-{hashlib.sha256(content.encode()).hexdigest()[:10]}"


SerialKey = tuple[str, str]  # maker and serial as they are compared


class _Seen:
    """The register by numbers and serials."""

    def __init__(self, known: KnownFleet) -> None:
        self.by_asset: dict[str, KnownInstrument] = {}
        self.by_serial: dict[SerialKey, KnownInstrument] = {}
        self.by_second: dict[str, KnownInstrument] = {}
        for instrument in known.instruments:
            self.by_asset[number_key(instrument.asset_number)] = instrument
            if instrument.serial:
                self.by_serial[name_key(instrument.maker), serial_key(instrument.serial)] = instrument
            if instrument.second_number:
                self.by_second[instrument.second_number.lower()] = instrument


class _Judge:
    def __init__(self, known: KnownFleet, reader: RowReader) -> None:
        self._reader, self._register = reader, _Seen(known)
        self._fingerprints = known.fingerprints
        self._came_in = Counter(fingerprint.partition(":")[0] for fingerprint in known.fingerprints)
        self._like: Counter[str] = Counter()
        self._asset_rows: dict[str, int] = {}
        self._serial_rows: dict[SerialKey, int] = {}
        self._second_rows: dict[str, int] = {}
        self._is_below = False  # a sum came before

    def judge(self, row: SheetRow) -> RowJudgement:
        if why := self._reader.why_skipped(row, is_below=self._is_below):
            self._is_below = True
            return RowJudgement(row.number, RowState.SKIPPED, {}, notes=(why,), cells=row.cells)
        reading, mark = self._reader.read(row), _mark_in(row, self._reader.header)
        values = reading.values
        problems = (*reading.problems, *self._repeated(row, values))
        if problems:
            return RowJudgement(row.number, RowState.PROBLEM, values, "", problems, reading.notes, cells=row.cells)
        identity = _identity(values)
        if mark:
            ordinal, came_before = mark, f"{identity}:{mark}" in self._fingerprints
        else:
            self._like[identity] += 1
            ordinal, came_before = str(self._like[identity]), self._like[identity] <= self._came_in[identity]
        match, field, clash = self._in_register(values)
        if clash and not came_before:
            problem = self._reader.problem(row, field, clash)
            return RowJudgement(row.number, RowState.PROBLEM, values, "", (problem,), reading.notes, cells=row.cells)
        state = RowState.ALREADY_HERE if match or came_before else RowState.NEW
        fingerprint = f"{identity}:{ordinal}"
        return RowJudgement(row.number, state, values, fingerprint, (), reading.notes, match, row.cells)

    def remember(self, judgement: RowJudgement) -> None:
        """Take a row judged before into account.

        A row that contradicted the register need not be counted: one like it repeats its number or serial.
        """
        self._is_below |= judgement.state is RowState.SKIPPED
        list(self._repeated(SheetRow(judgement.number, ()), judgement.values))
        identity, _, ordinal = judgement.fingerprint.partition(":")
        if ordinal.isdigit():
            self._like[identity] += 1

    def _repeated(self, row: SheetRow, values: Values) -> Iterator[RowProblem]:
        """Yield a problem for each number that an earlier row of the file has."""
        if number := values.get("asset_number"):
            first = self._asset_rows.setdefault(number_key(number), row.number)
            if first != row.number:
                reason = _(
                    "asset number “%(number)s” is also in row %(row)s. Each instrument needs its own.",
                    number=number, row=first,
                )  # fmt: skip
                yield self._reader.problem(row, "asset_number", reason)
        if second := values.get("second_number"):
            first = self._second_rows.setdefault(second.lower(), row.number)
            if first != row.number:
                reason = _(
                    "second number “%(number)s” is also in row %(row)s. Each instrument needs its own.",
                    number=second, row=first,
                )  # fmt: skip
                yield self._reader.problem(row, "second_number", reason)
        if serial := values.get("serial"):
            first = self._serial_rows.setdefault(_serial_key(values), row.number)
            if first != row.number:
                found = {"serial": serial, "maker": values.get("maker", ""), "row": first}
                reason = _("serial “%(serial)s” is also in row %(row)s. Check which row is right.", **found)
                if "maker" in values:
                    reason = _(
                        "serial “%(serial)s” of %(maker)s is also in row %(row)s. Check which row is right.", **found
                    )
                yield self._reader.problem(row, "serial", reason)

    def _in_register(self, values: Values) -> tuple[str, str, str]:
        """Return the asset number of the instrument that the row is, or which column contradicts the register and how."""
        number, serial = values.get("asset_number", ""), values.get("serial", "")
        by_asset = self._register.by_asset.get(number_key(number)) if number else None
        by_serial = self._register.by_serial.get(_serial_key(values)) if serial else None
        clash, field = "", "asset_number"
        if by_asset is not None:
            if by_asset.is_elsewhere:
                clash = _("asset number “%(number)s” belongs to an instrument at another school.", number=number)
            elif _is_same(by_asset, values):
                return by_asset.asset_number, "", ""
            else:
                clash = _(
                    "asset number “%(number)s” is taken by %(instrument)s.",
                    number=number,
                    instrument=_described(by_asset),
                )
        elif by_serial is not None:
            field = "serial"
            if by_serial.is_elsewhere:
                clash = _("serial “%(serial)s” is registered at another school. Ask for a transfer.", serial=serial)
            elif by_serial.kind == values["kind"] and not number:
                return by_serial.asset_number, "", ""
            else:
                clash = _(
                    "serial “%(serial)s” is registered as %(instrument)s.",
                    serial=serial,
                    instrument=_described(by_serial),
                )
        second = values.get("second_number", "")
        if not clash and second.lower() in self._register.by_second:
            field, clash = "second_number", _("second number “%(number)s” is taken.", number=second)
        return "", field, clash


def conflicts(*, rows: Iterable[RowJudgement], known: KnownFleet) -> Iterator[RowProblem]:
    """Yield why rows judged new earlier cannot be written now: what ``known`` holds by this time contradicts them."""
    register = _Seen(known)
    for row in rows:
        number, serial = row.values.get("asset_number"), row.values.get("serial")
        if row.fingerprint in known.fingerprints:
            yield RowProblem(row.number, "", _("this row has been imported in the meantime."))
        elif number and number_key(number) in register.by_asset:
            reason = _("asset number “%(number)s” has been taken in the meantime.", number=number)
            yield RowProblem(row.number, "", reason)
        elif serial and _serial_key(row.values) in register.by_serial:
            reason = _("serial “%(serial)s” has been registered in the meantime.", serial=serial)
            yield RowProblem(row.number, "", reason)
        elif row.values.get("second_number", "").lower() in register.by_second:
            reason = _("second number “%(number)s” has been taken in the meantime.", number=row.values["second_number"])
            yield RowProblem(row.number, "", reason)


def _serial_key(values: Values) -> SerialKey:
    return name_key(values.get("maker", "")), serial_key(values["serial"])


def _is_same(instrument: KnownInstrument, values: Values) -> bool:
    """Say whether the row tells of this instrument: the kind is the same, and no serial contradicts."""
    serials = {serial_key(serial) for serial in (instrument.serial, values.get("serial")) if serial}
    return instrument.kind == values["kind"] and len(serials) < 2


def _described(instrument: KnownInstrument) -> str:
    serial = _("serial %(serial)s", serial=instrument.serial) if instrument.serial else ""
    words = (instrument.asset_number, instrument.kind.replace("_", " "), instrument.maker, serial)
    return ", ".join(filter(None, words))


def _identity(values: Values) -> str:
    """Return a hash of what makes two rows the same thing; notes, cost and room may change in between."""
    names = name_key(values.get("maker", "")), name_key(values.get("model", ""))
    numbers = serial_key(values.get("serial", "")), serial_key(values.get("asset_number", ""))  # as stored
    parts = (values["school"], values["kind"], *names, *numbers, values.get("size", "").casefold())
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:24]


def counts(judgements: Iterable[RowJudgement]) -> dict[RowState, int]:
    """Return how many rows are in each state."""
    found = Counter(judgement.state for judgement in judgements)
    return {state: found[state] for state in RowState}


# The rows that could not come in, to be corrected and sent again


class ProblemSheet(NamedTuple):
    """A header and its rows, for ``core.sheets.write_csv`` or ``write_xlsx``."""

    header: tuple[str, ...]
    rows: list[tuple[str | int | date, ...]]


def problem_sheet(*, header: Sequence[str], rows: Iterable[tuple[SheetRow, Sequence[RowProblem]]]) -> ProblemSheet:
    """Return the problem rows with their original columns, then row number, reason and mark.

    The mark stays the same when a row comes back still wrong, so that it is known however often it is sent.
    """
    own = own_columns(header)
    kept = [index for index in range(len(header)) if index not in own]
    sheet = ProblemSheet((*(header[index] for index in kept), ROW_COLUMN, PROBLEM_COLUMN, MARK_COLUMN), [])
    for row, problems in rows:
        cells = (row.cells[index] if index < len(row.cells) else "" for index in kept)
        plain = ("" if isinstance(cell, CellTrouble) else cell for cell in cells)
        why = " ".join(f"{problem.column}: {problem.reason}".removeprefix(": ") for problem in problems)
        sheet.rows.append((*plain, row.number, why, _mark_in(row, header) or row_mark(row)))
    return sheet
