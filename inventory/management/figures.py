"""The base of commands that count with figures, and that also run where there is no database."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.db import Error, connection
from django.utils import timezone

from core.translation import gettext as _
from inventory.models import District
from inventory.selectors.figures import enter

DISTRICT, CATALOG = "district", "catalog"


class FiguresCommand(BaseCommand):
    """Counts with the district's figures where its database answers, else with the catalog's own, and says which."""

    requires_system_checks = ()
    requires_migrations_checks = False
    counted_with = CATALOG

    def execute(self, *args: Any, **options: Any) -> str | None:
        if is_district_there():
            enter(timezone.now())
            self.counted_with = DISTRICT
        return super().execute(*args, **options)

    @property
    def counted_words(self) -> str:
        if self.counted_with == DISTRICT:
            return _("Counted with the district's figures.")
        return _("Counted with the catalog's figures: no district's database answers here.")


def is_district_there() -> bool:
    """Whether the configured database answers, is up to date with figures, and holds a district. Makes no file."""
    name = str(connection.settings_dict["NAME"])
    if connection.vendor == "sqlite" and not name.startswith("file:") and not Path(name).exists():
        return False
    try:
        return District.objects.filter(pk=1).values_list("figures_mark").first() is not None
    except Error:
        return False
