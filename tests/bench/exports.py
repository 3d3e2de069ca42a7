"""Exports of the whole district: how long the first byte and the last take, and how much the process grows."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from time import perf_counter

from tests.bench.figures import Figure
from tests.bench.sections import Run

MOST_MB = 60  # that a process may grow by, whatever the size of the list

ALONE = """
import sys, django
django.setup()
from tests.bench.exports import main
main(sys.argv[1])
"""


def section(run: Run) -> Iterator[Figure]:
    """Each in a process of its own, so that the peak of its memory is its own."""
    from django.conf import settings

    assert run.big.schools
    surroundings = os.environ | {"DATABASE_URL": f"sqlite:///{settings.DATABASES['default']['NAME']}"}
    for address in ("/instruments/export.csv", "/instruments/export.xlsx"):
        done = subprocess.run(
            [sys.executable, "-c", ALONE, address], env=surroundings, check=False, capture_output=True, text=True
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(done.stderr[-2000:])
        told = json.loads(done.stdout)
        kept = "kept" if told["grown_mb"] <= MOST_MB else "MISSED"
        note = (
            f"first byte after {told['first_ms']:.0f} ms; the process grew by {told['grown_mb']:.0f} MB "
            f"(at most {MOST_MB}: {kept}); {told['bytes'] / 1e6:.1f} MB sent"
        )
        yield Figure(f"{address}, whole district", told["all_ms"], note=note)


def main(address: str) -> None:
    from core.models import User
    from tests.bench.pages import client_of

    client = client_of(User.objects.get(username="auditor"))
    client.get("/instruments/")  # what any page loads is no growth
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    started = perf_counter()
    answer = client.get(address)
    chunks = iter(answer) if answer.streaming else iter([answer.content])
    sent = len(next(chunks))
    first_ms = (perf_counter() - started) * 1000
    for chunk in chunks:
        sent += len(chunk)
    print(
        json.dumps(
            {
                "first_ms": first_ms,
                "all_ms": (perf_counter() - started) * 1000,
                "grown_mb": (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024,
                "bytes": sent,
            }
        )
    )
