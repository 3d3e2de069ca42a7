"""A whole roster held against the standard: every file, row and cell, and what points to what.

It goes on past whatever is wrong, so that all of it is told at once. Files are read record by record; what is kept is the
sourcedIds of files that others point into.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from core.translation import gettext as _
from loans.rules.roster.manifest import FILE, Manifest, read_manifest
from loans.rules.roster.problems import Problem, Problems, UnreadableError, quoted
from loans.rules.roster.rows import Record, records
from loans.rules.roster.sources import Source
from loans.rules.roster.standard import BULK, DELTA, Column, Standard, file_name
from loans.rules.roster.values import LONGEST_TEXT, fault, items, passes

METADATA = "metadata."
ID = "sourcedId"


@dataclass(frozen=True, slots=True)
class Checked:
    """``rows`` counts the rows below the header by file name, ``modes`` says bulk or delta by file."""

    standard: Standard
    modes: dict[str, str]
    rows: dict[str, int]
    problems: tuple[Problem, ...]


@dataclass(slots=True)
class _Known:
    """The sourcedIds of one file. They are not all known where part of it could not be read, or it brings changes."""

    ids: set[str] = field(default_factory=set)
    is_all: bool = True


def check_roster(source: Source) -> Checked:
    """Check every file; raises nothing."""
    problems = Problems()
    for problem in source.problems:
        problems.add(problem.file, problem.row, problem.column, problem.reason)
    manifest = read_manifest(source, problems)
    rows = {FILE: manifest.rows} if FILE in source.names else {}
    known: dict[str, _Known] = {}
    for name, columns in manifest.standard.files.items():
        if name in manifest.modes:
            check = _FileCheck(source, name, columns, manifest=manifest, known=known, problems=problems)
            check.run()
            rows[check.file] = check.rows
        elif name in manifest.missing:
            known[name] = _Known(is_all=False)  # told once, not for each row that points into it
    return Checked(manifest.standard, manifest.modes, rows, problems.all())


def checked_before(source: Source) -> Checked:
    """Return what the manifest says of a roster that was checked before, without checking it again."""
    manifest = read_manifest(source, Problems())
    return Checked(manifest.standard, manifest.modes, {}, ())


class _FileCheck:
    """One file's check."""

    def __init__(
        self,
        source: Source,
        name: str,
        columns: tuple[Column, ...],
        *,
        manifest: Manifest,
        known: dict[str, _Known],
        problems: Problems,
    ) -> None:
        self._source, self._name, self._columns = source, name, columns
        self._known, self._problems = known, problems
        self.file, self.rows = file_name(name), 0
        self._mode = manifest.modes[name]
        self._missing: set[str] = set()  # columns whose file is not there, told once
        self._points_to_itself = any(column.points_to == name for column in columns)
        self._width = 0
        self._checks: list[tuple[int, Column, Callable[[str], object]]] = []
        self._pointers: list[tuple[int, Column]] = []
        self._id = 0  # where the sourcedId stands; -1 nowhere

    def add(self, row: int | None, column: str, reason: str) -> None:
        self._problems.add(self.file, row, column, reason)

    def run(self) -> None:
        own = self._known[self._name] = _Known(is_all=self._mode == BULK)
        try:
            if self._points_to_itself:
                self._gather(own)
            with self._source.open(self.file) as stream:
                for record in records(stream):
                    if record.number == 1:
                        self._read_header(record)
                    else:
                        self.rows += 1
                        self._check(record, own)
        except UnreadableError as error:
            own.is_all = False
            self.add(None, "", str(error))
        else:
            if not self._width:
                self.add(None, "", _("The file is empty; it must have a header row."))
            elif not self.rows:
                self.add(None, "", _("The file has no rows below its header."))

    def _gather(self, own: _Known) -> None:
        """Read the sourcedIds first, where rows may point to later ones, and tell of those that are there twice."""
        with self._source.open(self.file) as stream:
            place = 0
            for record in records(stream):
                if record.number == 1:
                    place = _place(record.cells, ID)
                elif 0 <= place < len(record.cells):
                    self._keep_id(record.number, record.cells[place], own)

    def _keep_id(self, row: int, text: str, own: _Known) -> None:
        if text in own.ids:
            self.add(row, ID, _("“%(id)s” is there more than once.", id=quoted(text)))
        elif text:
            own.ids.add(text)

    # The header

    def _read_header(self, record: Record) -> None:
        for reason in record.faults:
            self.add(1, "", reason)
        header = record.cells
        self._width = len(header)
        wanted = [column.name for column in self._columns]
        self._check_names(header, wanted)
        self._check_order(header, wanted)
        self._id = _place(header, ID)
        if self._id < 0:
            self._known[self._name].is_all = False
        is_delta = self._mode == DELTA
        for column in self._columns:
            if (place := _place(header, column.name)) >= 0:
                self._checks.append((place, column, passes(column, is_delta=is_delta)))
                if column.points_to:
                    self._pointers.append((place, column))

    def _check_names(self, header: Sequence[str], wanted: Sequence[str]) -> None:
        folded = {name.casefold(): name for name in wanted}
        misspelt = set()
        for name in dict.fromkeys(header):
            meant = folded.get(name.strip().casefold(), "")
            if name in wanted or (name.startswith(METADATA) and name != METADATA):
                if header.count(name) > 1:
                    self.add(1, name, _("The column is there more than once."))
            elif meant and meant not in header:
                misspelt.add(meant)
                self.add(1, name, _("The column must be written “%(name)s”.", name=meant))
            elif not name:
                self.add(1, "", _("A column has no name."))
            else:
                self.add(1, name, _("The standard lists no such column in this file."))
        for name in wanted:
            if name not in header and name not in misspelt:
                self.add(1, name, _("The column is missing."))

    def _check_order(self, header: Sequence[str], wanted: Sequence[str]) -> None:
        """Tell of the first column that is out of its place."""
        listed = [name for name in dict.fromkeys(header) if name in wanted]
        right = [name for name in wanted if name in header]
        for name, should in zip(listed, right, strict=False):
            if name != should:
                reason = _("The columns are not in the order of the standard: “%(name)s” belongs here.", name=should)
                self.add(1, name, reason)
                return
        last = max((place for place, name in enumerate(header) if name in wanted), default=-1)
        for name in header[: last + 1]:
            if name.startswith(METADATA):
                self.add(1, name, _("Metadata columns must be to the right of all others."))
                return

    # The rows

    def _check(self, record: Record, own: _Known) -> None:
        number, cells = record.number, record.cells
        for reason in record.faults:
            self.add(number, "", reason)
        own.is_all &= record.is_whole
        if not self._points_to_itself and 0 <= self._id < len(cells):
            self._keep_id(number, cells[self._id], own)
        if len(cells) != self._width:
            if record.is_whole:
                reason = _("The row has %(count)d cells, the header %(width)d.", count=len(cells), width=self._width)
                self.add(number, "", reason)
            return
        is_long = max(map(len, cells), default=0) > LONGEST_TEXT
        for place, column, is_fine in self._checks:
            if (is_long or not is_fine(cells[place])) and (
                reason := fault(column, cells[place], is_delta=self._mode == DELTA)
            ):
                self.add(number, column.name, reason)
        for place, column in self._pointers:
            if cells[place]:
                self._follow(number, column, cells[place])

    def _follow(self, number: int, column: Column, text: str) -> None:
        known = self._known.get(column.points_to)
        if known is None:
            if column.name not in self._missing and self._mode == BULK:
                self._missing.add(column.name)
                reason = _("This points into %(file)s, which is not there.", file=file_name(column.points_to))
                self.add(number, column.name, reason)
            return
        if not known.is_all:
            return
        for part in items(column, text):
            if part and part not in known.ids:
                reason = _("There is no “%(id)s” in %(file)s.", id=quoted(part), file=file_name(column.points_to))
                self.add(number, column.name, reason)


def _place(header: Sequence[str], name: str) -> int:
    return header.index(name) if name in header else -1
