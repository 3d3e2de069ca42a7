"""``manage.py send_notices`` makes the reminders that are owed; it is safe to run twice."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Any

from django.core.management.base import CommandParser
from django.utils import timezone

from core.management.writing import WritingCommand
from loans.models import Notice
from loans.services.notices import drop_letters, make_reminders
from loans.tasks import queue_notices


class Command(WritingCommand):
    help = (
        "Make the reminders that families are owed: due soon, overdue, an agreement to sign. Mail goes into the queue, "
        "which hands it over outside the quiet hours; who has no e-mail gets a letter, which waits to be printed, and is "
        "left unprinted once it is no longer true. Nobody "
        "is reminded of the same thing twice, however often this runs. It runs with `nightly`."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--date", type=date.fromisoformat, metavar="DAY", help="as of this day, 2027-05-21; without it, today"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        now = timezone.now()
        today = options["date"] or timezone.localdate(now)
        drop_letters(today=today, actor=None, at=now)
        made = make_reminders(today=today, actor=None, at=now)
        queue_notices()
        ways = Counter(notice.way for notice in made)
        waiting = Notice.objects.to_print().count()
        self.stdout.write(
            f"{ways[Notice.Way.EMAIL]} to be mailed, {ways[Notice.Way.LETTER]} to be printed; "
            f"{waiting} letters wait to be printed in all"
        )
