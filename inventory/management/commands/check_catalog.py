"""Checks the trade catalog and the district's own folder over it."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.catalog.load import FOLDER, CatalogError, load_catalog, override_folder


class Command(BaseCommand):
    help = "Check the trade catalog: print what it holds, or every problem as file: key: reason (exit status 1)."
    requires_system_checks = []

    def handle(self, *_args: Any, **_options: Any) -> None:
        try:
            found = load_catalog(FOLDER, override_folder())
        except CatalogError as error:
            for problem in error.problems:
                self.stderr.write(str(problem))
            raise CommandError(f"{len(error.problems)} problems in the catalog", returncode=1) from error
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
        ):
            self.stdout.write(f"{count:5d} {name}")
        self.stdout.write("The catalog is sound.")
