"""``manage.py forget_lists``: what imported lists kept of people, and nobody needs any more, goes. For a nightly run."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from inventory.services.importing import KEPT_FOR, forget_old_lists


class Command(BaseCommand):
    help = (
        f"Throw away lists that nobody confirmed for {KEPT_FOR.days} days, and the rows with problems of lists that "
        "were written so long ago. They may name people."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        gone = forget_old_lists(at=timezone.now())
        self.stdout.write(f"Lists thrown away: {gone.lists}. Rows with problems forgotten: {gone.rows}.")
