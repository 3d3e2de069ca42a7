"""Loads the trade catalog from its folder and, over it, from a district's own folder.

Needs the settings, but neither database nor apps: commands and plain tests may call it.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from contextvars import ContextVar
from functools import cache, lru_cache
from pathlib import Path
from threading import Lock
from typing import Any, get_args, get_origin, get_type_hints

from django.conf import settings as django_settings

from inventory.catalog.load.checks import check_links
from inventory.catalog.load.folder import SECTIONS, Folder, read_folder
from inventory.catalog.load.kinds import build_kinds
from inventory.catalog.load.language import reading_language, translate
from inventory.catalog.load.problems import CatalogError, Problem
from inventory.catalog.load.reading import Reader
from inventory.catalog.schema import Catalog, Guard, OrderRule, Origin, Remedy, Setting, Tag

__all__ = [
    "FOLDER",
    "CatalogError",
    "Figures",
    "Problem",
    "catalog",
    "catalog_under",
    "load_catalog",
    "override_folder",
    "put_in_force",
    "shipped_catalog",
]

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "catalog"
# Section, code, field, value; a field inside another is "prices.student", a range is a tuple.
Figures = tuple[tuple[str, str, str, int | float | tuple[int | float, ...]], ...]
RUNGS = "rungs"  # of a ladder: each says where its own figures come from
MOST_KEPT = 8  # catalogs with different figures

logger = logging.getLogger(__name__)
_figures: ContextVar[Callable[[], Figures]] = ContextVar("figures_in_force", default=tuple)
_building = Lock()


def load_catalog(
    folder: Path = FOLDER, override: Path | None = None, figures: Figures = (), *, language: str = ""
) -> Catalog:
    """Read, build and check a catalog; CatalogError names every problem by file, key and reason.

    ``override`` has the same files: entries merge by code, field by field, and new codes are added. ``figures`` are
    the district's own and come last. Words to read are in the language, as far as they are translated.
    """
    read = read_folder(folder=folder, override=override)
    for section, code, name, value in figures:
        if code in read.sections.get(section, {}):  # else the catalog has lost what the figure was for
            read.lay_over(section=section, code=code, entry=_as_entry(name, value), file="Setup")
    read.sections = translate(read.sections, language)
    return build_catalog(read)


def _as_entry(name: str, value: Any) -> dict[str, Any]:
    """A figure as a file would say it, with whose it is."""
    *outer, last = name.split(".")
    entry: dict[str, Any] = {last: list(value) if isinstance(value, tuple) else value}
    if outer and outer[0] == RUNGS:
        entry["origin"] = Origin.DISTRICT.value
    for one in reversed(outer):
        entry = {one: entry}
    return entry if outer and outer[0] == RUNGS else entry | {"origin": Origin.DISTRICT.value}


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


def catalog() -> Catalog:
    """Return the catalog of this installation with the district's figures that are in force, in the reader's language.

    Made once a process for the same figures: whatever is remembered by catalog is not found again under other ones.
    """
    return catalog_under(_figures.get()())


def catalog_under(figures: Figures) -> Catalog:
    """Return the catalog of this installation with these figures, whichever are in force."""
    with _building:  # two threads that meet other figures together get the same object
        return _catalog_with(figures, reading_language())


def shipped_catalog() -> Catalog:
    """Return the catalog as shipped, with the district's own folder, beneath every figure that was set."""
    return catalog_under(())


def put_in_force(figures: Callable[[], Figures]) -> None:
    """Let ``catalog()`` answer with what this returns from here on, in this thread or task; asked each time."""
    _figures.set(figures)


@lru_cache(maxsize=MOST_KEPT)
def _catalog_with(figures: Figures, language: str) -> Catalog:
    try:
        return load_catalog(FOLDER, override_folder(), figures, language=language)
    except CatalogError:
        if not figures:
            raise
        logger.exception("the district's figures do not fit this catalog; its own are used")
        return _catalog_with((), language)


def override_folder() -> Path | None:
    """Return the district's own folder, as the settings name it, else None."""
    chosen = django_settings.HORNBOOK_CATALOG_DIR
    return Path(chosen) if chosen else None
