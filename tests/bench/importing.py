"""Measures bringing a large list in: ``measure_import`` on the database that is set up, which it adds to.

Give it a database of its own. Times are of this machine; the counts are exact.
"""

from __future__ import annotations

import json
import resource
import threading
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import datetime

from django.db import connections
from django.utils import timezone

from inventory.models import ColumnMemory, District, School
from inventory.selectors.importing import guessed_columns
from inventory.services.importing import begin_import, choose_columns, judge_more, publish_import, sample_rows
from tests.bench.demo import run_python
from tests.bench.figures import Figure
from tests.bench.sections import Run

KINDS = (
    "Tpt",
    "TRUMPET #3",
    "Bb Clarinet",
    "Flute",
    "Alto Sax",
    "Trombone",
    "bari sax",
    "Tuba",
    "Snare kit",
    "French horn",
)
AT_ONCE = 2000  # rows judged for one request


@dataclass(frozen=True, slots=True)
class ImportFigures:
    """Seconds and MB; ``wait_s`` is the longest that another writer waited while the list was published."""

    rows: int
    written: int
    read_s: float
    judge_s: float
    longest_judge_request_s: float
    publish_s: float
    transaction_s: float
    wait_s: float
    peak_mb: float


def large_list(rows: int, *, mark: str) -> bytes:
    """A list in a school's own words; every third row has a number of its own, the rest take the next free."""
    lines = ["Tag #,Instrument,Make,Model,Serial #,Purch Date,Cost,Room,Condition"]
    for number in range(rows):
        tag = "" if number % 3 else f"{mark}-{number:05d}"
        lines.append(
            f"{tag},{KINDS[number % len(KINDS)]},Plain Brass Works,M{number % 40},{mark}{number:06d},"
            f'8/{number % 28 + 1}/2015,"${number % 900 + 100}.00",Room {number % 12},fair'
        )
    return "\n".join(lines).encode()


class _Writer(threading.Thread):
    """Somebody else at work: a small write every few milliseconds, each timed."""

    def __init__(self, school: School) -> None:
        super().__init__(daemon=True)
        self.school, self.waits, self.stop = school, [0.0], threading.Event()

    def run(self) -> None:
        try:
            while not self.stop.is_set():
                started = time.perf_counter()
                ColumnMemory.objects.update_or_create(
                    school=self.school, heading="written beside", defaults={"field": "notes"}
                )
                self.waits.append(time.perf_counter() - started)
                time.sleep(0.005)
        finally:
            connections.close_all()


def measure_import(*, rows: int = 20_000, school: School | None = None, at: datetime | None = None) -> ImportFigures:
    """Bring a list of so many rows in, with another writer at work while it is published."""
    at = at or timezone.now()
    school = school or School.objects.order_by("pk").first() or School.objects.create(code="BENCH", name="Bench School")
    data = large_list(rows, mark=f"B{at:%H%M%S}")
    started = time.perf_counter()
    batch = begin_import(school=school, data=data, filename="large.csv", actor=None, at=at).batch
    read_s = time.perf_counter() - started
    guess = guessed_columns(school=school, header=batch.header, sample=sample_rows(batch))
    choose_columns(batch=batch, choices=guess.choices, actor=None, at=at, remember=False)
    requests = []
    while batch.state == batch.State.READING:
        started = time.perf_counter()
        batch = judge_more(batch=batch, today=at.date(), most=AT_ONCE)
        requests.append(time.perf_counter() - started)
    writer = _Writer(school)
    writer.start()
    started = time.perf_counter()
    published = publish_import(batch=batch, actor=None, at=at, today=at.date())
    publish_s = time.perf_counter() - started
    writer.stop.set()
    writer.join()
    return ImportFigures(
        rows=rows,
        written=published.written,
        read_s=read_s,
        judge_s=sum(requests),
        longest_judge_request_s=max(requests),
        publish_s=publish_s,
        transaction_s=published.transaction_s,
        wait_s=max(writer.waits),
        peak_mb=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0,
    )


ALONE = """
import sys, django
django.setup()
from tests.bench.importing import main
main(int(sys.argv[1]))
"""


def main(rows: int) -> None:
    District.objects.get_or_create(pk=1, defaults={"name": "Wide River District"})
    print(json.dumps(asdict(measure_import(rows=rows))))


def section(run: Run) -> Iterator[Figure]:
    """In a process and a database of its own, so that the peak of its memory is its own."""
    rows = min(run.size, 20_000)
    told = json.loads(run_python("-c", ALONE, str(rows), folder=run.folder, name="import").splitlines()[-1])
    note = f"{told['written']:,} of {told['rows']:,} written; peak memory of the process {told['peak_mb']:.0f} MB"
    yield Figure("read and staged", told["read_s"] * 1000)
    yield Figure("judged, in requests", told["judge_s"] * 1000)
    yield Figure("the longest of these requests", told["longest_judge_request_s"] * 1000)
    yield Figure("published, all or none", told["publish_s"] * 1000, note=note)
    yield Figure("its one transaction", told["transaction_s"] * 1000)
    yield Figure("the longest wait of somebody else at work", told["wait_s"] * 1000)
