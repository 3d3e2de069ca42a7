"""``manage.py work`` does what the queue holds, until it is stopped. `make serve` runs one beside the server."""

from __future__ import annotations

import logging
import time
from argparse import ArgumentParser
from datetime import datetime, timedelta
from typing import Any

from django.db import Error, connections
from django.utils import timezone
from django.utils.crypto import get_random_string
from django_tasks_db.management.commands.db_worker import Worker

from core.forgetting import forget_searches
from core.hooks import enter_all
from core.management.writing import WritingCommand
from core.models import LongWork
from core.outages import open_only_what_is_there
from core.queue import sweep
from core.services.long_work import delete_old_work, fail_stalled_work

logger = logging.getLogger(__name__)

SWEEPS_EVERY = timedelta(minutes=5)
PAUSE_S, PAUSE_WITHOUT_DATABASE_S = 1.0, 5.0


def sweep_all(*, now: datetime) -> None:
    """Find what is due and queue it, and forget what is past its time."""
    sweep(now=now)
    forget_searches(at=now)
    fail_stalled_work(LongWork.objects.all(), at=now)
    delete_old_work(at=now)


class Command(WritingCommand):
    help = "Do what waits in the queue, such as the papers of signed loans, until stopped. `make serve` runs one."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="do what waits now, then end")

    def execute(self, *args: Any, **options: Any) -> str | None:
        if not options["once"]:
            open_only_what_is_there()
        return super().execute(*args, **options)

    def handle(self, *args: Any, **options: Any) -> None:
        worker = Worker(
            queue_names=["*"],
            interval=0,
            batch=True,
            backend_name="default",
            startup_delay=False,
            max_tasks=None,
            worker_id=get_random_string(32),
            excluded_queue_names=[],
        )
        if options["once"]:
            sweep_all(now=timezone.now())
            worker.run()
            return
        worker.configure_signals()
        logging.getLogger("django_tasks_db").setLevel(logging.ERROR)  # that it was told to stop is no news
        swept_at = None
        while worker.running:
            pause = PAUSE_S
            try:
                now = timezone.now()
                enter_all(now)
                # Also when the clock was set back.
                if swept_at is None or not timedelta() <= now - swept_at < SWEEPS_EVERY:
                    sweep_all(now=now)
                    swept_at = now
                worker.run()
            except Error as error:
                logger.error("the worker has no database (%s); it tries again", type(error).__name__)  # noqa: TRY400
                connections.close_all()
                swept_at, pause = None, PAUSE_WITHOUT_DATABASE_S
            if worker.running:
                time.sleep(pause)
