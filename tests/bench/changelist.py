"""The register beside a stock Django changelist: the same rows, columns, filters, page length and middleware.

Both are asked in turn in one process, on the large district's database, by somebody who sees all of it.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import asdict

from tests.bench.figures import Figure, middle, p95, times
from tests.bench.sections import Run

MOST_RATIO = 1.5
WAYS = {  # the same list, asked of both
    "as it opens": ("", ""),
    "by maker": ("?sort=maker", "?o=3"),
    "one kind": ("?kind=trumpet", "?kind_code=trumpet"),
    "one school": ("?school={school}", "?school__id__exact={school}"),
    "does not play": ("?verdict=does_not_play", "?verdict__exact=does_not_play"),
    "words": ("?q=vale", "?q=vale"),
    "last page": ("?page={last}", "?p={last}"),
}

ALONE = """
import sys, django
django.setup()
from tests.bench.changelist import main
main(int(sys.argv[1]))
"""


def section(run: Run) -> Iterator[Figure | str]:
    """In a process of its own: an installed app more is another set of settings."""
    from django.conf import settings

    assert run.big.schools
    surroundings = os.environ | {
        "DJANGO_SETTINGS_MODULE": "tests.bench.changelist_settings",
        "DATABASE_URL": f"sqlite:///{settings.DATABASES['default']['NAME']}",
    }
    done = subprocess.run(
        [sys.executable, "-c", ALONE, str(run.runs)], env=surroundings, check=False, capture_output=True, text=True
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(done.stderr[-2000:])
    for line in done.stdout.splitlines():
        yield Figure(**json.loads(line))


def main(runs: int) -> None:
    from core.models import User
    from inventory.models import Instrument, School
    from tests.bench.pages import answered, client_of

    client = client_of(User.objects.get(username="auditor"))
    last = Instrument.objects.present().count() // 50
    school = School.objects.order_by("pk")[0].pk
    for what, (ours, stock) in WAYS.items():
        taken = {}
        for name, start, query in (
            ("register", "/instruments/", ours),
            ("stock", "/stock/inventory/instrument/", stock),
        ):
            address = start + query.format(school=school, last=last)
            taken[name] = times(lambda address=address: answered(client.get(address), 200), runs=runs)
        ratio = middle(taken["register"]) / middle(taken["stock"])
        for name, found in taken.items():
            note = f"{ratio:.2f} times the stock changelist{'' if ratio <= MOST_RATIO else ': MISSED'}" * (
                name == "register"
            )
            print(json.dumps(asdict(Figure(f"{name}, {what}", middle(found), p95(found), note=note))))
