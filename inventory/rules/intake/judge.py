"""Which rows are new, which are here already, and what is wrong with the rest."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from itertools import islice
from typing import Final

from core.sheets.cells import SheetRow
from inventory.rules.intake.fields import MARK_COLUMN, IntakeField
from inventory.rules.intake.mapping import ColumnMapping
from inventory.rules.intake.parse import FindKind, name_key, number_key
from inventory.rules.intake.row import Places, RowProblem, RowReader, RowReading
from inventory.rules.intake.values import IntakeValues

CHUNK: Final = 500  # rows


class RowState(StrEnum):
    NEW = "new"
    ALREADY_HERE = "already_here"
    PROBLEM = "problem"


@dataclass(frozen=True, slots=True)
class KnownInstrument:
    """What tells an instrument of the register from others."""

    asset_number: str
    kind: str
    maker: str
    serial: str
    is_elsewhere: bool = False  # at a school that the sender does not see: nothing of it is told


@dataclass(frozen=True, slots=True)
class KnownFleet:
    """The register as the judge needs it: every instrument of the district, and what imports wrote before."""

    instruments: Iterable[KnownInstrument] = ()
    fingerprints: Collection[str] = field(default_factory=frozenset)  # of rows that came in
    used_asset_numbers: Collection[str] = field(default_factory=frozenset)  # of instruments gone; never used again


@dataclass(frozen=True, slots=True)
class RowJudgement:
    """The answer for one row. ``fingerprint`` is to be stored with the instrument that the row becomes."""

    number: int
    state: RowState
    values: IntakeValues
    fingerprint: str
    problems: tuple[RowProblem, ...] = ()
    notes: tuple[str, ...] = ()  # what was decided in reading it
    match: str = ""  # asset number of the instrument that it is, where it is here already

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
            return f"It is in the register as {self.match}." if self.match else "This row was brought in before."
        return ""


def judge_rows(  # a judgement needs to know all of it
    *,
    rows: Iterable[SheetRow],
    mapping: ColumnMapping,
    known: KnownFleet,
    find_kind: FindKind,
    kind_words: Mapping[str, str],
    places: Places,
    today: date,
    longest: Mapping[str, int] | None = None,
    earlier: Iterable[RowJudgement] = (),
) -> Iterator[RowJudgement]:
    """Judge row by row, in the order of the file; nothing is kept but the numbers seen.

    A row without serial and asset number is recognized by how many like it came in before: the third
    of four like trumpets is here already when three came in. A row of our own list of problem
    rows carries a mark, which is recognized instead.

    ``earlier`` are the judgements of the rows before these, so that a file can be judged piece by piece with the
    same answers; of their values only maker, serial and asset number count. ``longest``: see RowReader.
    """
    reader = RowReader(
        mapping=mapping, find_kind=find_kind, kind_words=kind_words, places=places, today=today, longest=longest
    )
    judge = _Judge(known)
    for judgement in earlier:
        judge.remember(judgement)
    header = [column.header for column in mapping.columns]
    mark_index = header.index(MARK_COLUMN) if MARK_COLUMN in header else None
    for row in rows:
        mark = ""
        if mark_index is not None and mark_index < len(row.cells):
            mark = str(row.cells[mark_index])
        yield judge.judge(row, reader.read(row), mark)


def in_chunks(judgements: Iterable[RowJudgement], *, size: int = CHUNK) -> Iterator[tuple[RowJudgement, ...]]:
    """Yield the judgements in tuples of at most ``size``, so that progress can be shown between them."""
    rest = iter(judgements)
    while chunk := tuple(islice(rest, size)):
        yield chunk


def row_mark(row: SheetRow) -> str:
    """Return what tells a problem row from every other row when it is sent again."""
    content = "\x1f".join(repr(cell) for cell in row.cells)
    return f"R{row.number}-{hashlib.sha256(content.encode()).hexdigest()[:10]}"


class _Judge:
    def __init__(self, known: KnownFleet) -> None:
        self._by_asset: dict[str, KnownInstrument] = {}
        self._by_serial: dict[tuple[str, str], KnownInstrument] = {}
        for instrument in known.instruments:
            self._by_asset[number_key(instrument.asset_number)] = instrument
            if instrument.serial:
                self._by_serial[(name_key(instrument.maker), number_key(instrument.serial))] = instrument
        self._used = {number_key(number) for number in known.used_asset_numbers}
        self._fingerprints = known.fingerprints
        self._came_in = Counter(fingerprint.partition(":")[0] for fingerprint in known.fingerprints)
        self._like: Counter[str] = Counter()
        self._asset_rows: dict[str, int] = {}
        self._serial_rows: dict[tuple[str, str], int] = {}

    def judge(self, row: SheetRow, reading: RowReading, mark: str) -> RowJudgement:
        values = reading.values
        problems = [*reading.problems, *self._repeated(row, reading)]
        if problems:
            return RowJudgement(row.number, RowState.PROBLEM, values, "", tuple(problems), reading.notes)
        identity = _identity(values)
        if mark:
            ordinal, came_before = mark, f"{identity}:{mark}" in self._fingerprints
        else:
            self._like[identity] += 1
            ordinal, came_before = str(self._like[identity]), self._like[identity] <= self._came_in[identity]
        fingerprint = f"{identity}:{ordinal}"
        match, clash = self._in_register(row, reading)
        if clash and not came_before:
            return RowJudgement(row.number, RowState.PROBLEM, values, "", (clash,), reading.notes)
        is_here = match or came_before
        return RowJudgement(
            row.number,
            RowState.ALREADY_HERE if is_here else RowState.NEW,
            values,
            fingerprint,
            notes=reading.notes,
            match=match,
        )

    def conflict(self, judgement: RowJudgement) -> RowProblem | None:
        values, number = judgement.values, judgement.number
        if judgement.fingerprint in self._fingerprints:
            return RowProblem(number, "", "this row was brought in meanwhile.")
        if values.asset_number and number_key(values.asset_number) in self._by_asset:
            return RowProblem(number, "", f"asset number “{values.asset_number}” has been taken meanwhile.")
        if values.serial and (name_key(values.maker), number_key(values.serial)) in self._by_serial:
            return RowProblem(number, "", f"serial “{values.serial}” has been registered meanwhile.")
        return None

    def remember(self, judgement: RowJudgement) -> None:
        """Take a row judged before into account.

        A row that contradicted the register need not be counted: one like it repeats its number or serial.
        """
        values, number = judgement.values, judgement.number
        if values.asset_number:
            self._asset_rows.setdefault(number_key(values.asset_number), number)
        if values.serial:
            self._serial_rows.setdefault((name_key(values.maker), number_key(values.serial)), number)
        identity, _, ordinal = judgement.fingerprint.partition(":")
        if ordinal.isdigit():
            self._like[identity] += 1

    def _repeated(self, row: SheetRow, reading: RowReading) -> Iterator[RowProblem]:
        """Yield a problem for each number that an earlier row of the file has."""
        values = reading.values
        if values.asset_number:
            first = self._asset_rows.setdefault(number_key(values.asset_number), row.number)
            if first != row.number:
                reason = f"asset number “{values.asset_number}” is in row {first} too. Each instrument needs its own."
                yield RowProblem(row.number, reading.columns.get(IntakeField.ASSET_NUMBER, ""), reason)
        if values.serial:
            key = (name_key(values.maker), number_key(values.serial))
            first = self._serial_rows.setdefault(key, row.number)
            if first != row.number:
                of_maker = f" of {values.maker}" if values.maker else ""
                reason = f"serial “{values.serial}”{of_maker} is in row {first} too. Check which row is right."
                yield RowProblem(row.number, reading.columns.get(IntakeField.SERIAL, ""), reason)

    def _in_register(self, row: SheetRow, reading: RowReading) -> tuple[str, RowProblem | None]:
        """Return the asset number of the instrument that the row is, or what contradicts the register."""
        values = reading.values
        by_asset = self._by_asset.get(number_key(values.asset_number)) if values.asset_number else None
        key = (name_key(values.maker), number_key(values.serial))
        by_serial = self._by_serial.get(key) if values.serial else None
        asset_column = reading.columns.get(IntakeField.ASSET_NUMBER, "")
        serial_column = reading.columns.get(IntakeField.SERIAL, "")
        if by_asset is not None:
            if by_asset.is_elsewhere:
                reason = f"asset number “{values.asset_number}” belongs to an instrument of another school."
                return "", RowProblem(row.number, asset_column, reason)
            if _is_same(by_asset, values):
                return by_asset.asset_number, None
            reason = f"asset number “{values.asset_number}” is taken by {_described(by_asset)}."
            return "", RowProblem(row.number, asset_column, reason)
        if by_serial is not None:
            if by_serial.is_elsewhere:
                reason = f"serial “{values.serial}” is in the register at another school. Ask for a transfer."
                return "", RowProblem(row.number, serial_column, reason)
            if by_serial.kind == values.kind and not values.asset_number:
                return by_serial.asset_number, None
            reason = f"serial “{values.serial}” is in the register as {_described(by_serial)}."
            return "", RowProblem(row.number, serial_column, reason)
        if values.asset_number and number_key(values.asset_number) in self._used:
            reason = f"asset number “{values.asset_number}” was used before and is never used again."
            return "", RowProblem(row.number, asset_column, reason)
        return "", None


def conflicts(*, rows: Iterable[RowJudgement], known: KnownFleet) -> Iterator[RowProblem]:
    """Yield why rows judged new earlier cannot be written now: what ``known`` holds by this time contradicts them."""
    judge = _Judge(known)
    for row in rows:
        problem = judge.conflict(row)
        if problem:
            yield problem


def _is_same(instrument: KnownInstrument, values: IntakeValues) -> bool:
    """Say whether the row tells of this instrument: the kind is the same, and no serial contradicts."""
    if instrument.kind != values.kind:
        return False
    both = instrument.serial and values.serial
    return not both or number_key(instrument.serial) == number_key(values.serial)


def _described(instrument: KnownInstrument) -> str:
    words = [instrument.asset_number, instrument.kind.replace("_", " "), instrument.maker]
    return ", ".join([word for word in words if word] + ([f"serial {instrument.serial}"] if instrument.serial else []))


def _identity(values: IntakeValues) -> str:
    """Return a hash of what makes two rows the same thing; notes, cost and room may change in between."""
    parts = (
        values.school,
        values.kind,
        name_key(values.maker),
        name_key(values.model),
        number_key(values.serial),
        number_key(values.asset_number),
        values.size.casefold(),
    )
    return hashlib.sha256("\x1f".join(parts).encode()).hexdigest()[:24]


def counts(judgements: Iterable[RowJudgement]) -> dict[RowState, int]:
    """Return how many rows are in each state."""
    found = Counter(judgement.state for judgement in judgements)
    return {state: found[state] for state in RowState}
