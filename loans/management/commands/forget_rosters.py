"""``manage.py forget_rosters`` deletes files of rosters that nobody went on with. For a nightly run."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from core.management.scoped import ScopedCommand
from loans.services.roster_files import KEPT_FOR, forget_files


class Command(ScopedCommand):
    help = f"Delete rosters and lists of students that were sent {KEPT_FOR.days} day ago or earlier and not imported."

    def handle(self, *_args: Any, **_options: Any) -> None:
        self.stdout.write(f"Rosters deleted: {forget_files(at=timezone.now())}.")
