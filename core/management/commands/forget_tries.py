"""``manage.py forget_tries`` deletes what is kept of old log-ins. For a nightly run."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from core.forgetting import TRIES_KEPT_FOR, forget_tries
from core.management.writing import WritingCommand


class Command(WritingCommand):
    help = (
        f"Delete what is kept of log-ins and failed tries, with their names and addresses, after {TRIES_KEPT_FOR.days} "
        "days, and one-time links that nobody used in time."
    )

    def handle(self, *_args: Any, **_options: Any) -> None:
        self.stdout.write(f"Rows of old log-ins and links deleted: {forget_tries(at=timezone.now())}.")
