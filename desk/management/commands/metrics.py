"""``manage.py metrics`` serves metrics for monitoring on a port of its own, in the common text format."""

from __future__ import annotations

import signal
import threading
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import Error, connections
from django.utils import timezone
from prometheus_client import CollectorRegistry, start_http_server
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector

from core.outages import open_only_what_is_there
from core.runs import last_runs
from desk.selectors.gauges import gauges


class RunsCollector:
    """Says when the nightly run ended, how each of its steps went, and how old the newest backup is."""

    def collect(self) -> Iterator[Metric]:
        runs, now = last_runs(), timezone.now()
        whole, backup = runs.pop("nightly", None), runs.get("backup")
        if whole:
            yield GaugeMetricFamily(
                "hornbook_nightly_age_seconds",
                "Since the nightly run ended.",
                value=(now - whole.tried_at).total_seconds(),
            )
        if backup and backup.done_at:
            yield GaugeMetricFamily(
                "hornbook_backup_age_seconds", "Since the newest backup.", value=(now - backup.done_at).total_seconds()
            )
        done = GaugeMetricFamily(
            "hornbook_nightly_done", "Whether a step last went well (1), by step.", labels=["step"]
        )
        for step, run in runs.items():
            done.add_metric([step], run.is_done)
        yield done


class DatabaseCollector:
    """Asks the database at each look; when it does not answer, says that and nothing else."""

    def collect(self) -> Iterator[Metric]:
        version = GaugeMetricFamily("hornbook_version", "Always 1; the label says which.", labels=["version"])
        version.add_metric([settings.VERSION], 1)
        yield version
        try:
            found = gauges(at=timezone.now())
        except Error:
            found = None
        finally:
            connections.close_all()  # each look has a thread of its own
        yield GaugeMetricFamily("hornbook_database_up", "Whether the database answers.", value=found is not None)
        if found is None:
            return
        tasks = GaugeMetricFamily("hornbook_tasks", "Tasks in the queue and done, by state.", labels=["state"])
        for state, count in found.tasks.items():
            tasks.add_metric([state], count)
        yield tasks
        yield GaugeMetricFamily(
            "hornbook_oldest_task_seconds", "How long the next task waits.", value=found.oldest_task_s
        )
        yield GaugeMetricFamily("hornbook_papers_due", "Signed loans without their paper.", value=found.papers_due)


def make_registry() -> CollectorRegistry:
    """What all processes of the server counted, and what the database says."""
    settings.METRICS_DIR.mkdir(mode=0o700, exist_ok=True)
    registry = CollectorRegistry()
    MultiProcessCollector(registry, path=str(settings.METRICS_DIR))  # type: ignore[no-untyped-call]
    registry.register(RunsCollector())
    registry.register(DatabaseCollector())
    return registry


class Command(BaseCommand):
    help = "Serve metrics on HORNBOOK_METRICS_PORT until stopped. `make serve` runs this where the port is set."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=settings.METRICS_PORT)

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["port"]:
            raise CommandError("Set HORNBOOK_METRICS_PORT to the port to answer on.")
        open_only_what_is_there()
        try:
            server, _thread = start_http_server(options["port"], settings.METRICS_HOST, make_registry())
        except OSError as error:
            where = f"{settings.METRICS_HOST} port {options['port']}"
            raise CommandError(f"Metrics cannot be answered at {where}: {error.strerror}") from None
        stopped = threading.Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: stopped.set())
        stopped.wait()
        server.shutdown()
