"""Reads a catalog folder, and a district's folder over it, into one tree of plain values that knows its files."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

import yaml

from inventory.catalog.load.problems import Problem
from inventory.catalog.schema import Catalog, Origin

Tree = dict[str, Any]

# One file each: what a catalog holds, and what its kinds, methods and parts are put together from.
SHARED = {"accessories", "care", "features", "options", "tags"}
SECTIONS = sorted({one.name for one in fields(Catalog)} - {"setting_notes"} | SHARED)
LAYOUTS = "layouts"  # one file each: layouts/<code>.yaml
CHARTS = "charts"  # any number to a file: charts/<anything>.yaml

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(slots=True)
class Folder:
    """Entries by section and code, each with the file that last said something about it."""

    sections: dict[str, Tree] = field(default_factory=lambda: {LAYOUTS: {}})
    origins: dict[tuple[str, str], Any] = field(default_factory=dict)  # (section, code) -> origin of its file
    files: dict[tuple[str, str], str] = field(default_factory=dict)  # (section, code) -> file
    problems: list[Problem] = field(default_factory=list)

    def lay_over(self, *, section: str, code: Any, entry: Any, file: str, origin: Any = None) -> None:
        """Merge an entry into what is there already; a code that is not text is noted."""
        if not isinstance(code, str):
            self.problems.append(Problem(file, f"{section}.{code}", "code must be text"))
            return
        entries = self.sections.setdefault(section, {})
        entries[code] = _merged(entries.get(code), entry)
        self.files[section, code] = file
        if origin is not None:
            self.origins[section, code] = origin


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


def parse(text: bytes) -> Any:
    return yaml.load(text, Loader=_Loader)  # noqa: S506  # a safe loader, in C where there is one


def read_document(*, path: Path, file: str, problems: list[Problem]) -> Tree:
    """Return the mapping that a file holds; what cannot be read is noted with its line, and {} comes back."""
    try:
        document = parse(path.read_bytes())
    except (yaml.YAMLError, UnicodeDecodeError) as error:
        mark = getattr(error, "problem_mark", None)
        where = f", line {mark.line + 1}" if mark else ""
        why = getattr(error, "problem", None) or getattr(error, "reason", "")
        problems.append(Problem(file, "", f"not readable as YAML{where}: {why}"))
        return {}
    if not isinstance(document, dict):
        problems.append(Problem(file, "", "expected a mapping"))
        return {}
    return document


def _read_into(*, result: Folder, folder: Path) -> None:
    for path in sorted(folder.rglob("*.yaml")):
        relative = path.relative_to(folder)
        if relative.parts[0] == CHARTS:
            continue
        file = f"{folder.name}/{relative.as_posix()}"
        document = read_document(path=path, file=file, problems=result.problems)
        if relative.parts[0] == LAYOUTS and len(relative.parts) == 2:  # layouts/<code>.yaml
            if document:
                result.lay_over(section=LAYOUTS, code=path.stem, entry=document, file=file)
        elif len(relative.parts) == 1 and path.stem in SECTIONS:
            _read_section(result=result, section=path.stem, document=document, file=file)
        else:
            result.problems.append(Problem(file, "", "not a file of the catalog"))


def _read_section(*, result: Folder, section: str, document: Tree, file: str) -> None:
    for key in document:
        if key not in ("origin", section):
            result.problems.append(Problem(file, str(key), "unknown key"))
    result.sections.setdefault(section, {})
    entries = document.get(section, {})
    if not isinstance(entries, dict):
        result.problems.append(Problem(file, section, "expected a mapping"))
        return
    for code, entry in entries.items():
        origin = entry.get("origin") if isinstance(entry, dict) else None
        if Origin.DISTRICT in {str(origin), str(document.get("origin"))}:
            result.problems.append(
                Problem(file, f"{section}.{code}.origin", "only what is set under Setup has this one")
            )
        result.lay_over(section=section, code=code, entry=entry, file=file, origin=document.get("origin"))


def _merged(below: Any, above: Any) -> Any:
    if not isinstance(below, dict) or not isinstance(above, dict):
        return above
    return {**below, **{key: _merged(below.get(key), value) for key, value in above.items()}}
