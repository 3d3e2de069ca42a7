"""Reads a catalog folder, and a district's folder over it, into one tree of plain values that knows its files."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import yaml

from inventory.catalog.load.problems import Problem

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

Tree = dict[str, Any]

SECTIONS = (
    "accessories",
    "care",
    "consumables",
    "faults",
    "fitted_sets",
    "guards",
    "hazards",
    "intervals",
    "kinds",
    "ladders",
    "methods",
    "options",
    "order_rules",
    "overhauls",
    "play_tests",
    "remedies",
    "roles",
    "settings",
    "tools",
)
LAYOUTS = "layouts"
CHARTS = "charts"  # read elsewhere: fingering charts have a shape of their own

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(slots=True)
class Folder:
    """Entries by section and code, each with the file that last said something about it."""

    sections: dict[str, Tree] = field(default_factory=dict)
    layouts: dict[str, Tree] = field(default_factory=dict)
    origins: dict[tuple[str, str], Any] = field(default_factory=dict)  # (section, code) -> origin of its file
    files: dict[tuple[str, str], str] = field(default_factory=dict)  # (section, code) -> file
    problems: list[Problem] = field(default_factory=list)


def read_folder(*, folder: Path, override: Path | None = None) -> Folder:
    """Read every file of the folder and lay the override over it, entry by entry and field by field.

    A mapping merges into a mapping; anything else replaces what was there. Problems are collected, not raised.
    """
    result = Folder()
    _read_into(result=result, folder=folder)
    for section in SECTIONS:
        if section not in result.sections:
            result.problems.append(Problem(f"{folder.name}/{section}.yaml", section, "file is missing"))
            result.sections[section] = {}
    if override is not None:
        if override.is_dir():
            _read_into(result=result, folder=override)
        else:
            result.problems.append(Problem(override.name, "", "override folder does not exist"))
    return result


def _read_into(*, result: Folder, folder: Path) -> None:
    for path in sorted(folder.rglob("*.yaml")):
        relative = path.relative_to(folder)
        if relative.parts[0] == CHARTS:
            continue
        file = f"{folder.name}/{relative.as_posix()}"
        document = _document(path=path, file=file, problems=result.problems)
        if document is None:
            continue
        if relative.parts[0] == LAYOUTS and len(relative.parts) == 2:  # layouts/<code>.yaml
            _lay_over(result=result, section=LAYOUTS, code=path.stem, entry=document, file=file)
        elif len(relative.parts) == 1 and path.stem in SECTIONS:
            _read_section(result=result, section=path.stem, document=document, file=file)
        else:
            result.problems.append(Problem(file, "", "not a file of the catalog"))


def _document(*, path: Path, file: str, problems: list[Problem]) -> Tree | None:
    try:
        with path.open("rb") as stream:
            document = yaml.load(stream, Loader=_Loader)  # noqa: S506  # a safe loader, in C where there is one
    except (yaml.YAMLError, UnicodeDecodeError) as error:
        mark = getattr(error, "problem_mark", None)
        where = f" at line {mark.line + 1}" if mark else ""
        problems.append(Problem(file, "", f"not readable as YAML{where}"))
        return None
    if not isinstance(document, dict):
        problems.append(Problem(file, "", "expected a mapping"))
        return None
    return document


def _read_section(*, result: Folder, section: str, document: Tree, file: str) -> None:
    for key in document:
        if key not in ("origin", section):
            result.problems.append(Problem(file, str(key), "unknown key"))
    entries = document.get(section, {})
    result.sections.setdefault(section, {})
    if not isinstance(entries, dict):
        result.problems.append(Problem(file, section, "expected a mapping"))
        return
    for code, entry in entries.items():
        if not isinstance(code, str):
            result.problems.append(Problem(file, f"{section}.{code}", "code must be text"))
            continue
        _lay_over(result=result, section=section, code=code, entry=entry, file=file, origin=document.get("origin"))


def _lay_over(  # one call site a section; a bundle would only rename these
    *, result: Folder, section: str, code: str, entry: Any, file: str, origin: Any = None
) -> None:
    entries = result.layouts if section == LAYOUTS else result.sections[section]
    entries[code] = _merged(entries.get(code), entry)
    result.files[section, code] = file
    if origin is not None:
        result.origins[section, code] = origin


def _merged(below: Any, above: Any) -> Any:
    if not isinstance(below, dict) or not isinstance(above, dict):
        return above
    merged: Mapping[str, Any] = {key: _merged(below.get(key), value) for key, value in above.items()}
    return {**below, **merged}
