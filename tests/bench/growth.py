"""How the cost of pages and exports grows from 1,000 instruments to 100,000: one PostgreSQL cluster for each size.

``make bench SECTION=growth SIZE=100000 JSON=docs/growth.json`` measures every size up to SIZE, and
``python -m tests.bench.growth_page`` makes ``docs/growth.md`` with its chart from that file. By itself,
``python -m tests.bench.growth --size N`` measures the district in the database of DATABASE_URL, and builds it where there
is none.

Of each page: the first time in a process, with nothing kept in it, until the page is whole, the longest single answer on
the way, and the median of later times; the processor's time of the first, of the process and of its PostgreSQL session,
since a shared machine's clock counts what others do; and how far memory rose above what it was before.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from time import perf_counter, process_time
from typing import TYPE_CHECKING, Any

from tests.bench.figures import Figure, lines, middle

if TYPE_CHECKING:
    from django.test import Client

    from tests.bench.rows import Big
    from tests.bench.sections import Run

ROOT = Path(__file__).parent.parent.parent
SIZES = (1_000, 3_000, 10_000, 30_000, 100_000)
NO_POSTGRES = 75  # of scripts/with_postgres.sh
PAGE_MS = 2000  # that no answer may take, the first of a process included
MOST_MB = 60  # by which an export may raise the memory of its process
WARM, SLOW_MS = 5, 5000
NOT_YET = b'id="loading-totals"'
TICKS = os.sysconf("SC_CLK_TCK")


def section(run: Run) -> Iterator[Figure | str]:
    for size in [size for size in SIZES if size <= run.size] or [run.size]:
        command = [sys.executable, "-m", "tests.bench.growth", "--size", str(size)]
        for word in run.words:
            command += ["--page", word]
        with tempfile.TemporaryDirectory(prefix="growth-", dir=run.folder) as folder:
            done = subprocess.run(
                ["bash", "scripts/with_postgres.sh", *command], cwd=ROOT,
                env=os.environ | {"HORNBOOK_VAR_DIR": folder}, check=False, stdout=subprocess.PIPE, text=True,
            )  # fmt: skip
        if done.returncode == NO_POSTGRES:
            yield "PostgreSQL is not here"
            return
        if done.returncode:
            raise RuntimeError(f"{size:,} instruments: exit code {done.returncode}")
        *_, last = done.stdout.splitlines()
        for row in json.loads(last):
            yield figure_of(row)


def figure_of(row: dict[str, Any]) -> Figure:
    note = f"processor {row['cpu_ms'] / 1000:.2f} s, database {row['database_cpu_ms'] / 1000:.2f} s"
    if row["is_page"]:
        note += f"; later {row['later_cpu_ms']:.0f} ms of both"
    if row["answers"] > 1:
        note += f", {row['answers']} answers, the longest {row['longest_ms'] / 1000:.1f} s"
    if row["grown_mb"] > 1:
        too_much = row["grown_mb"] > MOST_MB and not row["is_page"]
        note += f", {row['grown_mb']:.0f} MB" + f", more than {MOST_MB}" * too_much
    return Figure(
        f"{row['name']}, {row['size']:,} instruments", row["median_ms"], row["first_ms"], row["queries"],
        most_ms=PAGE_MS if row["is_page"] else None, note=note, bytes=row["bytes"], row=row,
    )  # fmt: skip


# In the process of one size


def memory_mb(name: str) -> float:
    """VmRSS is what the process has now, VmHWM the most it had since ``forget_peak``."""
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return next(int(line.split()[1]) / 1024 for line in lines if line.startswith(name))


def forget_peak() -> None:
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")


class Clock:
    """Wall, own processor time and that of the database's session, from one reading to the next."""

    def __init__(self) -> None:
        from django.db import connection

        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid()")
            self.session = Path(f"/proc/{cursor.fetchone()[0]}/stat")
        self.last = self._now()

    def _now(self) -> tuple[float, float, float]:
        fields = self.session.read_text(encoding="ascii").rpartition(")")[2].split()
        return perf_counter(), process_time(), (int(fields[11]) + int(fields[12])) / TICKS

    def lap_ms(self) -> tuple[float, float, float]:
        now = self._now()
        wall, own, database = (1000 * (is_now - was) for is_now, was in zip(now, self.last, strict=True))
        self.last = now
        return wall, own, database


@dataclass(frozen=True, slots=True)
class Answered:
    bytes: int
    answers: int = 1  # until the page was whole
    longest_ms: float = 0.0


def measured(name: str, call: Callable[[], Answered], *, clock: Clock, is_page: bool = True) -> dict[str, Any]:
    """Call once with nothing kept in the process; a page then again, a file not."""
    import gc

    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    from inventory.selectors.school_sums import forget_sums

    forget_sums()
    gc.collect()
    forget_peak()
    before = memory_mb("VmRSS")
    clock.lap_ms()
    with CaptureQueriesContext(connection) as captured:
        first = call()
    first_ms, cpu_ms, database_cpu_ms = clock.lap_ms()
    grown_mb, queries, taken = memory_mb("VmHWM") - before, len(captured), []
    later_cpu_ms = 0.0
    runs = (WARM if first_ms < SLOW_MS else 2) if is_page else 0
    for _ in range(runs):
        clock.lap_ms()
        with CaptureQueriesContext(connection) as captured:
            call()
        wall, own, database = clock.lap_ms()
        taken.append(wall)
        later_cpu_ms += (own + database) / runs  # a database's time is counted in hundredths of a second
        queries = len(captured)
    row = {
        "name": name, "median_ms": middle(taken or [first_ms]), "first_ms": first_ms, "longest_ms": first.longest_ms,
        "answers": first.answers, "cpu_ms": cpu_ms, "database_cpu_ms": database_cpu_ms, "later_cpu_ms": later_cpu_ms, "queries": queries,
        "grown_mb": grown_mb, "bytes": first.bytes, "is_page": is_page,
    }  # fmt: skip
    print(*lines([figure_of(row | {"size": 0})])[1:], file=sys.stderr, flush=True)
    return row


def opened(client: Client, address: str) -> Callable[[], Answered]:
    """Return a call that opens a page until it is whole: one of a large fleet may say how far it is first."""

    def call() -> Answered:
        longest_ms, answers, sent = 0.0, 0, b""
        while not answers or NOT_YET in sent:
            started = perf_counter()
            answer = client.get(address, headers={"accept-encoding": "identity"})
            if answer.status_code != (302 if "/search/" in address and "Location" in answer else 200):
                raise AssertionError(f"{address}: {answer.status_code}")
            if answer.streaming:
                return Answered(sum(len(chunk) for chunk in answer))  # type: ignore[misc]
            sent, answers = answer.content, answers + 1
            longest_ms = max(longest_ms, (perf_counter() - started) * 1000)
        return Answered(len(sent), answers, longest_ms)

    return call


def searched(client: Client, words: str) -> str:
    """Return the address of what was found: words are posted, since they may be a name."""
    from django.urls import reverse

    answer = client.post(reverse("desk:search"), {"q": words})
    if answer.status_code != 302:
        raise AssertionError(f"search: {answer.status_code}")
    return str(answer["Location"])


def pages(big: Big) -> Iterator[tuple[str, str, str]]:
    """Name, role and address."""
    from datetime import timedelta

    from django.urls import reverse
    from django.utils import timezone

    from inventory.models import Count

    today = timezone.localdate(big.now)
    past, known = today - timedelta(days=3 * 365), today - timedelta(days=2 * 365)
    asked = f"on={past}&known_on={known}"
    count = Count.objects.filter(school=big.schools[0]).latest("pk")
    tech = big.people["tech"].pk
    for role in ("director", "auditor"):
        yield f"register, {role}", role, reverse("inventory:list")
        yield f"today, {role}", role, reverse("desk:today")
    yield "register by maker, last page", "auditor", reverse("inventory:list") + "?sort=maker&page=100000"
    yield "condition of the fleet", "auditor", reverse("desk:condition")
    yield "value today", "auditor", reverse("desk:value")
    yield "value three years ago", "auditor", reverse("desk:value") + f"?on={past}"
    yield "value three years ago as known a year later", "auditor", reverse("desk:value") + f"?{asked}"
    yield "value of one school, three years ago", "director", reverse("desk:value") + f"?on={past}"
    yield "changes of a fiscal year", "auditor", reverse("desk:value-year")
    yield "replacement need", "auditor", reverse("desk:replacement")
    yield "property report", "auditor", reverse("desk:property")
    yield "counts", "auditor", reverse("desk:counts")
    yield "one school's count", "auditor", reverse("desk:count", args=[count.pk])
    yield "samples", "auditor", reverse("desk:samples")
    yield "out of the fleet", "auditor", reverse("desk:out")
    yield "log", "auditor", reverse("desk:log")
    yield "log of a person's act that nobody did", "auditor", reverse("desk:log") + f"?person={tech}&act=left_fleet"
    yield "log of late entries", "auditor", reverse("desk:log") + "?show=late"
    yield "exceptions", "auditor", reverse("desk:exceptions")
    yield "loans, auditor", "auditor", reverse("loans:list")
    yield "care, tech", "tech", reverse("repairs:care")
    yield "bench review, tech", "tech", reverse("repairs:season")


FILES = (
    "/instruments/export.csv", "/instruments/export.xlsx", "/value/schedule.csv", "/value/schedule.xlsx",
    "/value/year.csv", "/value/replacement/first.csv", "/property/record.csv", "/property/record.xlsx",
    "/condition/schools.csv", "/out-of-fleet/list.csv", "/log/entries.csv", "/log/exceptions.csv",
)  # fmt: skip


def measure_all(big: Big, *, words: tuple[str, ...], files: tuple[str, ...]) -> Iterator[dict[str, Any]]:
    from tests.bench.pages import client_of

    clients = {role: client_of(user) for role, user in big.people.items()}
    for role in ("auditor", "director", "tech"):
        opened(clients[role], "/")()  # what any page loads is no growth
    clock = Clock()

    def holds(name: str) -> bool:
        return not words or any(word in name for word in words)

    for name, role, address in pages(big):
        if holds(name):
            yield measured(name, opened(clients[role], address), clock=clock)
    for words_asked in ("vale", "WR-00005", "student 7", "zzzz"):
        if holds(f"search, {words_asked}"):
            found = searched(clients["auditor"], words_asked)
            yield measured(f"search, {words_asked}", opened(clients["auditor"], found), clock=clock)
    for address in files:
        if holds(address):
            yield measured(address, opened(clients["auditor"], address), clock=clock, is_page=False)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.growth", description=__doc__)
    parser.add_argument("--size", type=int, required=True)
    parser.add_argument("--page", action="append", default=[], help="only what holds this; more than once")
    parser.add_argument("--without-files", action="store_true")
    chosen = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    Path(os.environ["HORNBOOK_VAR_DIR"], "static").mkdir(exist_ok=True, parents=True)
    import django

    django.setup()
    from django.core.management import call_command
    from django.db import connection
    from django.utils import timezone

    from tests.bench.district import build, district_found
    from tests.bench.sections import EVENTS

    call_command("migrate", verbosity=0)
    now = timezone.now()
    big = district_found(now=now)
    if big is None:
        started, own = perf_counter(), process_time()
        big = build(instruments=chosen.size, events=chosen.size * EVENTS, now=now)
        with connection.cursor() as cursor:
            cursor.execute("VACUUM ANALYZE")
        took = f"{perf_counter() - started:.0f} s, of them {process_time() - own:.0f} s of this process"
        counts = ", ".join(f"{count:,} {name}" for name, count in big.counts.items())
        print(f"{chosen.size:,} instruments built in {took}: {counts}", file=sys.stderr, flush=True)
    with connection.cursor() as cursor:
        cursor.execute("SET max_parallel_workers_per_gather = 0")  # one processor, and all of it counted
        cursor.execute("SHOW server_version")
        version = cursor.fetchone()[0]
    rows = list(measure_all(big, words=tuple(chosen.page), files=() if chosen.without_files else FILES))
    place = {
        "size": chosen.size, "on": f"{timezone.localdate(now)}", "postgresql": version.split()[0],
        "python": platform.python_version(), "cores": os.cpu_count(), "load": round(os.getloadavg()[2], 1),
    }  # fmt: skip
    print(json.dumps([row | place for row in rows]))


if __name__ == "__main__":
    main()
