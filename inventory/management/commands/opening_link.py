"""Prints the link by which a new installation is set up in the browser."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from core.management.writing import WritingCommand
from inventory.services.opening import LASTS, make_opening_link


class Command(WritingCommand):
    help = (
        "Print a one-time link by which the first administrator sets up this place in the browser. Prints nothing where"
        " somebody administers it already; the link printed before is void then."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--address", default="", help="where the server answers; default: the public address")

    def handle(self, *_args: Any, **options: Any) -> None:
        token = make_opening_link(at=timezone.now())
        if not token:
            return
        home = settings.PUBLIC_ADDRESS or options["address"].rstrip("/")
        hours = int(LASTS.total_seconds() // 3600)
        self.stdout.write(
            f"This place is empty. Set it up in the browser, once, within {hours} hours:\n\n"
            f"  {home}{reverse('desk:begin', args=[token])}\n"
        )
