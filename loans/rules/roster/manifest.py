"""The manifest: which version of the standard, and which files are there, whole (bulk) or as changes (delta)."""

from __future__ import annotations

from dataclasses import dataclass, field

from core.translation import gettext as _
from loans.rules.roster.problems import Problems, UnreadableError, quoted
from loans.rules.roster.rows import Record, records
from loans.rules.roster.sources import Source
from loans.rules.roster.standard import ABSENT, BULK, DELTA, MANIFEST, MODES, STANDARDS, VERSIONS, Standard, file_name

FILE = file_name(MANIFEST)
HEADER = ["propertyName", "value"]
OWN_VERSION = "1.0"
VERSION, OF_STANDARD, MODE_OF = "manifest.version", "oneroster.version", "file."
OTHERS = {"source.systemName", "source.systemCode"}


@dataclass(slots=True)
class Manifest:
    standard: Standard
    modes: dict[str, str] = field(default_factory=dict)  # of the files that are there: bulk or delta
    missing: set[str] = field(default_factory=set)  # named, and not there
    rows: int = 0


def read_manifest(source: Source, problems: Problems) -> Manifest:
    """Read the manifest and hold it against the files. Without one, the files speak for themselves."""
    properties, rows = _properties(source, problems)
    standard = _standard(properties, source, problems)
    for name, (value, row) in properties.items():
        _check_property(name, value, row, standard=standard, problems=problems)
    there = {name.removesuffix(".csv"): name for name in source.names if name != FILE}
    modes, missing, named = dict[str, str](), set[str](), _named(properties)
    for name, (mode, row) in named.items():
        if mode != ABSENT and name in standard.names and name not in there:
            missing.add(name)
            reason = _("%(file)s is named here but is not there.", file=file_name(name))
            problems.add(FILE, row, "value", reason)
    for name, file in there.items():
        if name not in standard.names or file != file_name(name):
            problems.add(file, None, "", _("OneRoster %(version)s has no file of this name.", version=standard.version))
            continue
        mode, _row = named.get(name, ("", 0))
        if properties and mode in {"", ABSENT}:
            problems.add(file, None, "", _("The file is there, but the manifest does not say so."))
        if name in standard.files:
            modes[name] = DELTA if mode == DELTA else BULK
    return Manifest(standard=standard, modes=modes, missing=missing, rows=rows)


def _properties(source: Source, problems: Problems) -> tuple[dict[str, tuple[str, int]], int]:
    """Return each property with value and row, and how many rows there are."""
    properties: dict[str, tuple[str, int]] = {}
    rows = 0
    if FILE not in source.names:
        problems.add(FILE, None, "", _("The file is not there; it must say what the others are."))
        return properties, rows
    try:
        with source.open(FILE) as stream:
            for record in records(stream):
                for fault in record.faults:
                    problems.add(FILE, record.number, "", fault)
                if record.number == 1:
                    _check_header(record, problems)
                else:
                    rows += 1
                    _take(record, properties, problems)
    except UnreadableError as error:
        problems.add(FILE, None, "", str(error))
    if not rows:
        problems.add(FILE, None, "", _("The file has no rows below its header."))
    return properties, rows


def _check_header(record: Record, problems: Problems) -> None:
    if record.cells[:2] != HEADER or any(not cell.startswith("metadata.") for cell in record.cells[2:]):
        problems.add(FILE, 1, "", _("The header must be: %(header)s.", header=",".join(HEADER)))


def _take(record: Record, properties: dict[str, tuple[str, int]], problems: Problems) -> None:
    if len(record.cells) < len(HEADER):
        problems.add(FILE, record.number, "", _("The row must have two cells: a property and its value."))
        return
    name, value = record.cells[:2]
    if name in properties:
        problems.add(FILE, record.number, "propertyName", _("“%(name)s” is there twice.", name=quoted(name)))
    properties.setdefault(name, (value, record.number))


def _standard(properties: dict[str, tuple[str, int]], source: Source, problems: Problems) -> Standard:
    value, row = properties.get(OF_STANDARD, ("", None))
    if value in VERSIONS:
        return STANDARDS[value]
    if FILE in source.names:
        if row is None:
            problems.add(FILE, None, "propertyName", _("“%(name)s” is missing.", name=OF_STANDARD))
        else:
            reason = _("“%(text)s” is not one of: %(words)s.", text=quoted(value), words=", ".join(VERSIONS))
            problems.add(FILE, row, "value", reason)
    return STANDARDS["1.2" if file_name("roles") in source.names else "1.1"]


def _check_property(name: str, value: str, row: int, *, standard: Standard, problems: Problems) -> None:
    if name == VERSION:
        if value != OWN_VERSION:
            problems.add(FILE, row, "value", _("The version of the manifest must be %(own)s.", own=OWN_VERSION))
    elif name.startswith(MODE_OF) and name.removeprefix(MODE_OF) in standard.names:
        if value not in MODES:
            reason = _("“%(text)s” is not one of: %(words)s.", text=quoted(value), words=", ".join(MODES))
            problems.add(FILE, row, "value", reason)
    elif name != OF_STANDARD and name not in OTHERS:
        reason = _("OneRoster %(version)s has no property “%(name)s”.", version=standard.version, name=quoted(name))
        problems.add(FILE, row, "propertyName", reason)


def _named(properties: dict[str, tuple[str, int]]) -> dict[str, tuple[str, int]]:
    return {name.removeprefix(MODE_OF): what for name, what in properties.items() if name.startswith(MODE_OF)}
