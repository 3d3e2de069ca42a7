"""Loads the trade catalog from its folder and, over it, from a district's own folder.

Needs the settings, but neither database nor apps: commands and plain tests may call it.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, get_args, get_origin, get_type_hints

from django.conf import settings as django_settings

from inventory.catalog.load.checks import check_links
from inventory.catalog.load.folder import SECTIONS, Folder, read_folder
from inventory.catalog.load.kinds import build_kinds
from inventory.catalog.load.problems import CatalogError, Problem
from inventory.catalog.load.reading import Reader
from inventory.catalog.schema import Catalog, Guard, OrderRule, Remedy, Setting, Tag

__all__ = ["FOLDER", "CatalogError", "Problem", "catalog", "load_catalog", "override_folder"]

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "catalog"


def load_catalog(folder: Path = FOLDER, override: Path | None = None) -> Catalog:
    """Read, build and check a catalog; CatalogError names every problem by file, key and reason.

    ``override`` has the same files: entries merge by code, field by field, and new codes are added.
    """
    return build_catalog(read_folder(folder=folder, override=override))


def build_catalog(folder: Folder) -> Catalog:
    """Build and check a catalog from a folder that was read; CatalogError names every problem."""
    reader = Reader(folder=folder, problems=folder.problems)
    reader.section("tags", Tag)
    notes = reader.section("settings", Setting)
    settings = {code: note.value for code, note in notes.items()}
    built = Catalog(
        kinds=build_kinds(reader, settings=settings),
        remedies=_remedies(reader),
        guards=tuple(_guards(reader)),
        order_rules=tuple(reader.section("order_rules", OrderRule).values()),
        settings=settings,
        setting_notes=notes,
        **{section: reader.section(section, shape) for section, shape in _plain_sections().items()},
    )
    problems = [*folder.problems, *check_links(catalog=built, folder=folder)]
    if problems:
        raise CatalogError(problems)
    return built


@cache
def _plain_sections() -> dict[str, Any]:
    """Return the sections that the catalog holds just as their files have them, each with the type of its entries."""
    mappings = {
        name: get_args(hint)[1] for name, hint in get_type_hints(Catalog).items() if get_origin(hint) is Mapping
    }
    return {name: shape for name, shape in mappings.items() if name in SECTIONS and name not in {"kinds", "settings"}}


def _guards(reader: Reader) -> list[Guard]:
    """Read the guards: one that names no fault is about the fault whose code it bears."""
    guards = reader.folder.sections["guards"]
    for code, raw in guards.items():
        if isinstance(raw, dict):
            guards[code] = {"fault": code, **raw}
    return list(reader.section("guards", Guard).values())


def _remedies(reader: Reader) -> tuple[Remedy, ...]:
    """Read the remedies: each fault has a list, the first that fits role, severity and kind counts."""
    result = []
    for fault, listed in reader.folder.sections["remedies"].items():
        reader.file = reader.folder.files["remedies", fault]
        reader.check_codes("faults", [fault], f"remedies.{fault}")
        if not isinstance(listed, list):
            reader.note(f"remedies.{fault}", "expected a list")
            continue
        for number, raw in enumerate(listed, start=1):
            remedy = reader.entry(Remedy, raw, f"remedies.{fault}.{number}", fault=fault)
            if remedy is not None:
                result.append(remedy)
    return tuple(result)


@cache
def catalog() -> Catalog:
    """Return the catalog of this installation, read once a process."""
    return load_catalog(FOLDER, override_folder())


def override_folder() -> Path | None:
    """Return the district's own folder, as the settings name it, else None."""
    chosen = django_settings.HORNBOOK_CATALOG_DIR
    return Path(chosen) if chosen else None
