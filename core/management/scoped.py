"""The base of commands that read what the district has set."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from core.hooks import enter_all


class ScopedCommand(BaseCommand):
    """Runs with what holds at its start: the district's time zone and figures (core/hooks.py)."""

    def execute(self, *args: Any, **options: Any) -> str | None:
        enter_all(timezone.now())
        return super().execute(*args, **options)
