"""``manage.py forget_lists`` deletes what imported lists kept about people once nobody needs it. For a nightly run."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from core.management.writing import WritingCommand
from inventory.services.importing import KEPT_FOR, forget_old_lists


class Command(WritingCommand):
    help = (
        f"Discard lists that nobody confirmed for {KEPT_FOR.days} days, and the problem rows of lists that were imported "
        "that long ago. They may name people."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        lists, rows = forget_old_lists(at=timezone.now())
        self.stdout.write(f"Lists discarded: {lists}. Problem rows deleted: {rows}.")
