"""Checks the trade catalog and the district's own folder over it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.catalog.charts import load_charts, missing_charts
from inventory.catalog.load import FOLDER, CatalogError, Problem, load_catalog, override_folder


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
        for name, count in (
            ("kinds", len(found.kinds)),
            ("parts", sum(len(kind.parts) for kind in found.kinds.values())),
            ("roles", len(found.roles)),
            ("faults", len(found.faults)),
            ("remedies", len(found.remedies)),
            ("methods", len(found.methods)),
            ("ladders", len(found.ladders)),
            ("rungs", sum(len(ladder.rungs) for ladder in found.ladders.values())),
            ("guards", len(found.guards)),
            ("order rules", len(found.order_rules)),
            ("hazards", len(found.hazards)),
            ("consumables", len(found.consumables)),
            ("tools", len(found.tools)),
            ("play tests", len(found.play_tests)),
            ("settings", len(found.settings)),
            ("fingering charts", len(charts)),
        ):
            self.stdout.write(f"{count:5d} {name}")
        self.stdout.write("The catalog is valid.")
