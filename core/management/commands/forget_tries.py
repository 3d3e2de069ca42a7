"""``manage.py forget_tries`` deletes what is kept of old tries to log in, for a nightly run; ``--now`` ends all pauses."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.utils import timezone

from core.forgetting import TRIES_KEPT_FOR, forget_tries
from core.management.writing import WritingCommand
from core.services.tries import end_pauses


class Command(WritingCommand):
    help = (
        f"Delete what is kept of wrong tries to log in after {TRIES_KEPT_FOR.days} days, and one-time links that nobody "
        "used in time."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--now", action="store_true", help="delete every try: whoever has to wait can log in at once"
        )

    def handle(self, *_args: Any, now: bool, **_options: Any) -> None:
        if now:
            self.stdout.write(f"Nobody has to wait now; tries deleted: {end_pauses()}.")
        else:
            self.stdout.write(f"Rows of old tries and links deleted: {forget_tries(at=timezone.now())}.")
