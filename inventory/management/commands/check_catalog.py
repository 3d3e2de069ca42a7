"""Checks the trade catalog and the district's own folder over it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.catalog.charts import load_charts, missing_charts
from inventory.catalog.load import FOLDER, CatalogError, Problem, load_catalog, override_folder

HELD = (
    "kinds", "roles", "faults", "remedies", "methods", "ladders", "guards", "order rules", "hazards", "consumables",
    "tools", "play tests", "settings",
)  # fmt: skip


class Command(BaseCommand):
    help = "Check the trade catalog: print what it holds, or every problem as file: key: reason (exit status 1)."
    requires_system_checks = []

    def handle(self, *_args: Any, **_options: Any) -> None:
        problems: list[Problem] = []
        found, charts, own = None, None, override_folder()
        try:
            found = load_catalog(FOLDER, own)
        except CatalogError as error:
            problems += error.problems
        try:
            charts = load_charts(more=own / "charts" if own else None)
        except CatalogError as error:
            problems += error.problems
        if found and charts:
            problems += missing_charts(found, charts)
        if problems or not found or not charts:
            for problem in problems:
                self.stderr.write(str(problem))
            many = f"{len(problems)} problem{'s' if len(problems) > 1 else ''}"
            raise CommandError(f"{many} in the catalog", returncode=1)
        held = {name: len(getattr(found, name.replace(" ", "_"))) for name in HELD}
        held["parts"] = sum(len(kind.parts) for kind in found.kinds.values())
        held["rungs"] = sum(len(ladder.rungs) for ladder in found.ladders.values())
        held["fingering charts"] = len(charts)
        for name, count in held.items():
            self.stdout.write(f"{count:5d} {name}")
        self.stdout.write("The catalog is valid.")
