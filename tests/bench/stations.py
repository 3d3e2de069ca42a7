"""Hand-out day with twenty stations at once, each a process with its own connection, on SQLite and on PostgreSQL.

Each station finds its students by card, shows the page and lends, as a browser would ask for it. Every fourth student of an
odd station wants what the neighbor hands out at the same turn, so one of the two is refused and takes another.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tests.bench.sections import Run

ROOT = Path(__file__).parent.parent.parent
STATIONS, EACH = 20, 10
CONTESTED = 4  # every fourth turn
NO_POSTGRES = 75  # of scripts/with_postgres.sh
READY = "ready"  # said by a station that has opened its first page; then it waits for a line


def section(run: Run) -> Iterator[str]:
    """Yield a line for each database. Raises RuntimeError where a horn went out twice, or anything was lost."""
    each = 3 if run.is_quick else EACH
    command = [sys.executable, "-m", "tests.bench.stations", "--each", str(each)]
    for name, begin in (("SQLite", []), ("PostgreSQL, not waiting for the disk", ["bash", "scripts/with_postgres.sh"])):
        with tempfile.TemporaryDirectory(prefix="stations-", dir=run.folder) as folder:
            surroundings = os.environ | {"HORNBOOK_VAR_DIR": folder, "DATABASE_URL": f"sqlite:///{folder}/day.sqlite3"}
            done = subprocess.run(
                [*begin, *command], cwd=ROOT, env=surroundings, check=False, capture_output=True, text=True
            )  # fmt: skip
        if done.returncode == NO_POSTGRES:
            yield f"{name}: not here"
            continue
        if done.returncode:
            raise RuntimeError((done.stdout + done.stderr)[-2000:])
        told = json.loads(done.stdout.splitlines()[-1])
        yield (
            f"{name}: {told['lent']} lent by {STATIONS} stations in {told['seconds']:.1f} s, {told['a_minute']:.0f} a minute; "
            f"a student takes {told['median_ms']:.0f} ms in the middle, {told['longest_ms']:.0f} ms at most; "
            f"the lending post {told['post_median_ms']:.0f} and {told['post_longest_ms']:.0f} ms; "
            f"{told['refused']} lost a race and took another; none twice, none lost"
        )


def set_up() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    Path(os.environ["HORNBOOK_VAR_DIR"], "static").mkdir(exist_ok=True)
    import django

    django.setup()


def build(each: int) -> dict[str, Any]:
    """Make the school: for every turn of every station one student with a card, and one instrument that may go out."""
    from django.core.management import call_command
    from django.utils import timezone

    from tests.factories import make_director, make_ready_instrument, make_school, make_student

    call_command("migrate", verbosity=0)
    at = timezone.now() - timedelta(days=1)
    school = make_school()
    count = STATIONS * each
    return {
        "director": make_director(school).pk,
        "cards": [make_student(school=school, number=f"90{n:04d}").number for n in range(count)],
        "horns": [make_ready_instrument(school=school, at=at).asset_number for _ in range(count)],
        "spares": {
            station * each + turn: make_ready_instrument(school=school, at=at).asset_number
            for station in range(0, STATIONS, 2)
            for turn in range(0, each, CONTESTED)
        },
    }


def serve(station: int, *, plan: dict[str, Any], each: int) -> list[dict[str, Any]]:
    """Hand out to this station's students one after the other, and return what each took."""
    from django.test import Client
    from django.test.utils import setup_test_environment
    from django.urls import reverse

    from core.models import User

    setup_test_environment(debug=False)  # or answers do not tell what their pages were made from
    client = Client()
    client.force_login(User.objects.get(pk=plan["director"]), backend="core.access.RoleBackend")
    place = reverse("desk:hand-out")
    client.get(place)
    print(READY, flush=True)
    sys.stdin.readline()
    told = []
    for turn in range(each):
        own = station * each + turn
        wanted = [plan["horns"][own]]
        if station % 2 and turn % CONTESTED == 0:
            wanted.insert(0, plan["horns"][own - each])
        wanted += [spare] if (spare := plan["spares"].get(str(own))) else []
        started = perf_counter()
        refused, post_ms = 0, 0.0
        address = client.post(place, {"q": plan["cards"][own]}, follow=True).redirect_chain[-1][0]
        for horn in wanted:
            page = client.get(f"{address}?instrument={horn}")
            if not page.context["may_go"]:
                refused += 1
                continue
            form = page.context["form"]
            names = ("nonce", "terms", "student", "signed", "due", "limits_reason")
            posted = perf_counter()
            answer = client.post(
                f"{address}?instrument={horn}", {name: form[name].value() for name in names} | {"all_here": "on"}
            )
            post_ms = max(post_ms, (perf_counter() - posted) * 1000)
            if answer.status_code == 302:
                break
            assert answer.status_code == 422, answer.status_code
            assert "may have been faster" in answer.text or "may not go out" in answer.text, "no sentence"
            refused += 1
        else:
            raise AssertionError(f"the student {own} got nothing")
        told.append({"ms": (perf_counter() - started) * 1000, "post_ms": post_ms, "refused": refused})
    return told


def day(each: int) -> dict[str, Any]:
    """Run every station, and hold what is stored against what each was told."""
    from django.db import connections
    from django.db.models import Count

    from core.events import broken_links
    from loans.models import Loan, Student
    from tests.opening import differences

    plan = build(each)
    connections.close_all()
    command = [sys.executable, "-m", "tests.bench.stations", "--each", str(each), "--plan", json.dumps(plan)]
    pipes: dict[str, Any] = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    running = [subprocess.Popen([*command, "--station", str(n)], **pipes) for n in range(STATIONS)]
    for process in running:
        while (line := process.stdout.readline()).strip() != READY:
            assert line, "a station stopped"
    started = perf_counter()
    for process in running:
        process.stdin.write("go\n")
        process.stdin.flush()
    said = [process.communicate()[0] for process in running]
    seconds = perf_counter() - started
    assert not any(process.returncode for process in running), "a station stopped"
    told = [one for text in said for one in json.loads(text.splitlines()[-1])]
    loans = Loan.objects.open()
    assert loans.count() == len(told) == STATIONS * each, "lost"
    assert not loans.values("instrument").annotate(n=Count("pk")).filter(n__gt=1).exists(), "a horn went out twice"
    assert Student.objects.filter(loans__in=loans).distinct().count() == len(told), "a student has none"
    assert not list(broken_links()), "the log is broken"
    wrong = differences()[1]
    assert not wrong, wrong[:3]
    return {
        "lent": len(told),
        "seconds": seconds,
        "a_minute": len(told) / seconds * 60,
        "median_ms": median(one["ms"] for one in told),
        "longest_ms": max(one["ms"] for one in told),
        "post_median_ms": median(one["post_ms"] for one in told),
        "post_longest_ms": max(one["post_ms"] for one in told),
        "refused": sum(one["refused"] for one in told),
    }


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.stations", description=__doc__)
    parser.add_argument("--each", type=int, default=EACH, help="students of each station")
    parser.add_argument("--station", type=int, help="be this station")
    parser.add_argument("--plan", help="who and what there is, as JSON")
    chosen = parser.parse_args()
    set_up()
    if chosen.station is None:
        print(json.dumps(day(chosen.each)))
    else:
        print(json.dumps(serve(chosen.station, plan=json.loads(chosen.plan), each=chosen.each)))


if __name__ == "__main__":
    main()
