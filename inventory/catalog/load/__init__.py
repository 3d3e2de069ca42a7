"""Loads the trade catalog from its folder and, over it, from a district's own folder.

Needs the settings, but neither database nor apps: commands and plain tests may call it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from django.conf import settings

from inventory.catalog.load.entries import (
    build_consumable,
    build_fault,
    build_fitted_set,
    build_guard,
    build_hazard,
    build_interval,
    build_ladder,
    build_method,
    build_order_rule,
    build_overhaul,
    build_play_test,
    build_remedies,
    build_role,
    build_setting,
    build_tool,
    section,
)
from inventory.catalog.load.folder import read_folder
from inventory.catalog.load.kinds import build_kinds
from inventory.catalog.load.links import check_links
from inventory.catalog.load.problems import CatalogError, Problem
from inventory.catalog.schema import Catalog

__all__ = ["FOLDER", "CatalogError", "Problem", "catalog", "load_catalog", "override_folder"]

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "catalog"


def load_catalog(folder: Path = FOLDER, override: Path | None = None) -> Catalog:
    """Read, build and check a catalog; CatalogError names every problem by file, key and reason.

    ``override`` has the same files: entries merge by code, field by field, and new codes are added.
    """
    tree = read_folder(folder=folder, override=override)
    if tree.problems:
        raise CatalogError(tree.problems)
    built = Catalog(
        kinds=build_kinds(folder=tree),
        roles=section(folder=tree, name="roles", build=build_role),
        faults=section(folder=tree, name="faults", build=build_fault),
        remedies=build_remedies(folder=tree),
        methods=section(folder=tree, name="methods", build=build_method),
        ladders=section(folder=tree, name="ladders", build=build_ladder),
        guards=tuple(section(folder=tree, name="guards", build=build_guard).values()),
        order_rules=tuple(section(folder=tree, name="order_rules", build=build_order_rule).values()),
        hazards=section(folder=tree, name="hazards", build=build_hazard),
        consumables=section(folder=tree, name="consumables", build=build_consumable),
        tools=section(folder=tree, name="tools", build=build_tool),
        play_tests=section(folder=tree, name="play_tests", build=build_play_test),
        settings=section(folder=tree, name="settings", build=build_setting),
        intervals=section(folder=tree, name="intervals", build=build_interval),
        fitted_sets=section(folder=tree, name="fitted_sets", build=build_fitted_set),
        overhauls=section(folder=tree, name="overhauls", build=build_overhaul),
    )
    problems = tree.problems or check_links(catalog=built, folder=tree)
    if problems:
        raise CatalogError(problems)
    return built


@cache
def catalog() -> Catalog:
    """Return the catalog of this installation, read once a process."""
    return load_catalog(FOLDER, override_folder())


def override_folder() -> Path | None:
    """Return the district's own folder, as the settings name it, else None."""
    chosen = settings.HORNBOOK_CATALOG_DIR
    return Path(chosen) if chosen else None
