"""``python -m tests.bench`` (``make bench``): pages, papers, rules and the import at the size of a large district.

Everything happens in a temporary folder. ``--quick`` takes a tenth of the rows and of the runs: a look, not a figure to
quote. Exit 1 when something could not be measured; a missed aim is printed and is no error.
"""

from __future__ import annotations

import argparse
import json
import os
import secrets
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from time import perf_counter

SECTIONS = ("pages", "papers", "rules", "guesses", "import", "hands", "demo")


def begin(folder: str) -> None:
    """Point the settings at the folder and start Django; production's own middleware and templates, debug off."""
    os.environ.update(
        DJANGO_SETTINGS_MODULE="config.settings",
        HORNBOOK_VAR_DIR=folder,
        DATABASE_URL=f"sqlite:///{folder}/bench.sqlite3",
        HORNBOOK_SECRET_KEY=secrets.token_urlsafe(60),
        HORNBOOK_PUBLIC_ADDRESS="https://horns.wide-river.example",
        HORNBOOK_DEBUG="0",
    )
    for name in ("HORNBOOK_PRODUCTION", "HORNBOOK_DEMO", "HORNBOOK_MEDIA_DIR", "HORNBOOK_CATALOG_DIR"):
        os.environ.pop(name, None)
    Path(folder, "static").mkdir()
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)


def say(*words: str) -> None:
    for line in words:
        print(line)
    sys.stdout.flush()


def table(title: str, figures: Iterable[object]) -> bool:
    """Print a section's figures as they came; a figure that could not be taken is named and makes the answer False."""
    from tests.bench.figures import Figure, lines

    taken: list[Figure] = []
    complete = True
    waiting = iter(figures)
    while True:
        try:
            figure = next(waiting, None)
        except Exception:  # noqa: BLE001 - whatever stops one section, the others are still measured
            traceback.print_exc()
            complete = False
            break
        if figure is None:
            break
        taken.append(figure)  # type: ignore[arg-type]
    say("", title, *(f"  {line}" for line in lines(taken)))
    return complete


def sentences(title: str, texts: Iterable[str]) -> bool:
    say("", title)
    try:
        for text in texts:
            say(f"  {text}")
    except Exception:  # noqa: BLE001 - as above
        traceback.print_exc()
        return False
    return True


IMPORT = """
import dataclasses, json, sys, django
django.setup()
from inventory.models import District
from tests.bench.importing import measure_import
District.objects.get_or_create(pk=1, defaults={"name": "Wide River District"})
print(json.dumps(dataclasses.asdict(measure_import(rows=int(sys.argv[1])))))
"""


def run_python(*arguments: str, folder: str, name: str) -> str:
    """Run this Python on a database of its own, migrated, in a process of its own; return what it printed."""
    surroundings = os.environ | {
        "DATABASE_URL": f"sqlite:///{folder}/{name}.sqlite3",
        "HORNBOOK_MEDIA_DIR": f"{folder}/{name}",
    }
    Path(folder, name).mkdir(exist_ok=True)
    for command in (("manage.py", "migrate", "--verbosity", "0"), arguments):
        done = subprocess.run(
            [sys.executable, *command], env=surroundings, check=False, capture_output=True, text=True
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{' '.join(command[:2])}: {done.stderr[-2000:]}")
    return done.stdout


def the_import(rows: int, *, folder: str) -> Iterator[object]:
    from tests.bench.figures import Figure

    told = json.loads(run_python("-c", IMPORT, str(rows), folder=folder, name="import").splitlines()[-1])
    note = f"{told['written']:,} of {told['rows']:,} written; peak memory of the process {told['peak_mb']:.0f} MB"
    yield Figure("read and staged", told["read_s"] * 1000)
    yield Figure("judged, in requests", told["judge_s"] * 1000)
    yield Figure("the longest of these requests", told["longest_judge_request_s"] * 1000)
    yield Figure("published, all or none", told["publish_s"] * 1000, note=note)
    yield Figure("its one transaction", told["transaction_s"] * 1000)
    yield Figure("the longest wait of somebody else at work", told["wait_s"] * 1000)


def guesses(*, quick: bool) -> Iterator[str]:
    from inventory.catalog.load import catalog
    from tests.bench.judging import diagnosis
    from tests.bench.planning import learning_lines

    yield from diagnosis(kinds=6 if quick else None)
    yield from learning_lines(catalog(), quick=quick)


def hands(folder: str) -> Iterator[str]:
    from tests.bench.hands import counted

    yield from counted(report=Path(folder, "hands.xml"))


def the_demo(folder: str) -> Iterator[object]:
    from tests.bench.figures import Figure

    started = perf_counter()
    run_python("manage.py", "load_demo", folder=folder, name="demo")
    yield Figure("migrated and loaded", (perf_counter() - started) * 1000, most_ms=90_000)
    yield Figure("promised minutes", note=run_python("-m", "tests.bench.promises", folder=folder, name="demo").strip())


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of the rows and of the runs")
    parser.add_argument("--only", action="append", choices=SECTIONS, help="one section; may be given more than once")
    options = parser.parse_args()
    wanted = tuple(options.only or SECTIONS)
    runs, instruments = (10, 2000) if options.quick else (50, 20_000)
    with tempfile.TemporaryDirectory(prefix="hornbook-bench-") as folder:
        begin(folder)
        from django.utils import timezone

        from tests.bench.figures import machine

        say(
            f"Hornbook on {timezone.localdate()}: {machine()}",
            f"median and 95th percentile of {runs} warm runs, one process, SQLite",
        )
        now = timezone.now()
        complete = True
        if "pages" in wanted:
            complete &= big_pages(instruments=instruments, runs=runs, folder=folder)
        measures: dict[str, Callable[[], bool]] = {
            "papers": lambda: papers_table(now, runs=runs, quick=options.quick),
            "rules": lambda: rules_table(runs=runs),
            "guesses": lambda: sentences("How right the guesses are", guesses(quick=options.quick)),
            "import": lambda: table(f"Import of {instruments:,} rows", the_import(instruments, folder=folder)),
            "hands": lambda: sentences("A person's taps and waits, in a driven browser", hands(folder)),
            "demo": lambda: table("The demo district", the_demo(folder)),
        }
        for name, measure in measures.items():
            if name in wanted:
                complete &= measure()
    return 0 if complete else 1


def big_pages(*, instruments: int, runs: int, folder: str) -> bool:
    from django.utils import timezone

    from core.events import broken_links
    from tests.bench.district import build
    from tests.bench.pages import pages

    started = perf_counter()
    big = build(instruments=instruments, events=instruments * 10, now=timezone.now())
    built = perf_counter()
    broken = list(broken_links())
    say(
        f"a district built in {built - started:.0f} s: "
        + ", ".join(f"{count:,} {name}" for name, count in big.counts.items()),
        f"event chain walked in {perf_counter() - built:.0f} s: {len(broken)} broken links; "
        f"database {Path(folder, 'bench.sqlite3').stat().st_size / 1e6:.0f} MB",
    )
    return table("Pages", pages(big, runs=runs)) and not broken


def papers_table(now: object, *, runs: int, quick: bool) -> bool:
    from tests.bench.papers import papers

    return table("Papers", papers(at=now, runs=runs, count=30 if quick else 300))  # type: ignore[arg-type]


def rules_table(*, runs: int) -> bool:
    from tests.bench.judging import rules

    return table("Rules, without the database", rules(runs=runs))


if __name__ == "__main__":
    sys.exit(main())
