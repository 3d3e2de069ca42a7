"""``python -m tests.bench`` (``make bench``): pages, papers, rules and the import at the size of a large district.

Everything happens in a temporary folder. ``--quick`` takes a tenth of the rows and of the runs: a look, not a figure to
quote. Exit 1 when something could not be measured; a missed aim is printed and is no error.
"""

from __future__ import annotations

import argparse
import json
import os
import secrets
import sys
import tempfile
from pathlib import Path

from tests.bench.sections import SECTIONS, Run, report

SIZE, RUNS = 20_000, 50


def begin(folder: Path, *, database: Path) -> None:
    """Point the settings at the folder and start Django; production's own middleware and templates, debug off."""
    os.environ.update(
        DJANGO_SETTINGS_MODULE="config.settings",
        HORNBOOK_VAR_DIR=str(folder),
        DATABASE_URL=f"sqlite:///{database}",
        HORNBOOK_SECRET_KEY=secrets.token_urlsafe(60),
        HORNBOOK_PUBLIC_ADDRESS="https://horns.wide-river.example",
        HORNBOOK_DEBUG="0",
    )
    for name in ("HORNBOOK_PRODUCTION", "HORNBOOK_DEMO", "HORNBOOK_MEDIA_DIR", "HORNBOOK_CATALOG_DIR"):
        os.environ.pop(name, None)
    Path(folder, "static").mkdir(exist_ok=True)
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of the rows and of the runs")
    parser.add_argument("--section", action="append", choices=SECTIONS, help="one section; may be given more than once")
    parser.add_argument("--page", action="append", help="only pages whose name holds this; may be given more than once")
    parser.add_argument("--size", type=int, help=f"instruments of the large district ({SIZE:,})")
    parser.add_argument("--runs", type=int, help=f"warm runs of each page ({RUNS})")
    parser.add_argument("--json", type=Path, help="write name, median_ms, p95_ms, queries, size and bytes of each here")
    parser.add_argument("--against", type=Path, help="a file written by --json at another size: print what has grown")
    parser.add_argument("--database", type=Path, help="build the district in this file, or use the one that is in it")
    parser.add_argument("--cpu", action="store_true", help="time the process, not the clock on the wall")
    return parser.parse_args()


def main() -> int:
    chosen = options()
    if chosen.cpu:
        os.environ["BENCH_CPU"] = "1"
    share = 10 if chosen.quick else 1
    with tempfile.TemporaryDirectory(prefix="hornbook-bench-") as name:
        folder = Path(name)
        begin(folder, database=(chosen.database or folder / "bench.sqlite3").absolute())
        from django.utils import timezone

        from tests.bench.figures import as_rows, growth, machine

        run = Run(
            size=chosen.size or SIZE // share, runs=chosen.runs or RUNS // share or 5, folder=folder,
            now=timezone.now(), is_quick=chosen.quick, words=tuple(chosen.page or ()),
        )  # fmt: skip
        print(
            f"Hornbook on {timezone.localdate(run.now)}: {machine()}",
            f"median and 95th percentile of {run.runs} warm runs, one process, SQLite{', CPU time' * chosen.cpu}",
            sep="\n",
        )
        taken, is_complete = [], True
        for section in chosen.section or SECTIONS:
            figures, is_whole = report(section, run)
            taken += figures
            is_complete &= is_whole
        if chosen.against:
            print(*growth(taken, json.loads(chosen.against.read_text())), sep="\n")
        if chosen.json:
            chosen.json.write_text(json.dumps(as_rows(taken, size=run.size), indent=1))
    return 0 if is_complete else 1


if __name__ == "__main__":
    sys.exit(main())
