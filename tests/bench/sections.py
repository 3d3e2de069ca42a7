"""What ``make bench`` measures, by name. A section is a function that yields figures and sentences about one subject.

To add one, write ``section(run)`` in a module of this folder and name the module here. Modules are imported when their
section is run: they need Django set up.
"""

from __future__ import annotations

import importlib
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from time import perf_counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from tests.bench.figures import Figure
    from tests.bench.rows import Big

EVENTS = 20  # for each instrument

SECTIONS: dict[str, tuple[str, str]] = {  # name: (module, title)
    "pages": ("tests.bench.pages", "Pages"),
    "register": ("tests.bench.changelist", "The register beside Django's own changelist"),
    "acts": ("tests.bench.acts", "Acts: SQL statements, begin and end among them"),
    "growth": (
        "tests.bench.growth",
        "How pages and exports grow with the district, on PostgreSQL: later answers, the first",
    ),
    "exports": ("tests.bench.exports", "Exports"),
    "papers": ("tests.bench.papers", "Papers"),
    "rules": ("tests.bench.judging", "Rules, without the database"),
    "assigning": ("tests.bench.assigning", "Who gets which instrument"),
    "season": ("tests.bench.season_plan", "What fills the most seats before a season"),
    "tuning": ("tests.bench.tuning", "How right a play test's cents are"),
    "guesses": ("tests.bench.guesses", "How right the guesses are"),
    "roster": ("tests.bench.roster", "A district's roster"),
    "import": ("tests.bench.importing", "Import"),
    "stations": ("tests.bench.stations", "Twenty stations of a hand-out day at once"),
    "hands": ("tests.bench.hands", "A person's taps and waits, in a driven browser"),
    "durability": ("tests.bench.durability", "What it costs that an act is on the disk before it is answered"),
    "demo": ("tests.bench.demo", "The demo district"),
}


@dataclass
class Run:
    """One run of the bench: how large a district, how often each thing is done, and where its files lie."""

    size: int  # instruments
    runs: int
    folder: Path
    now: datetime
    is_quick: bool = False
    words: tuple[str, ...] = ()  # of the names of the pages asked for; all of them without any

    def holds(self, name: str) -> bool:
        """Return whether a page of this name was asked for."""
        return not self.words or any(word in name for word in self.words)

    @cached_property
    def big(self) -> Big:
        """The large district, built when the first section asks for it; a database given by name is used again."""
        from core.events import broken_links
        from tests.bench.district import build, district_found

        found = district_found(now=self.now)
        if found is not None:
            return found
        started = perf_counter()
        big = build(instruments=self.size, events=self.size * EVENTS, now=self.now)
        built = perf_counter()
        broken = list(broken_links())
        if broken:
            raise AssertionError(f"the event chain of the large district is broken: {broken[:3]}")
        counts = ", ".join(f"{count:,} {name}" for name, count in big.counts.items())
        print(f"a district built in {built - started:.0f} s: {counts}")
        print(f"event chain walked in {perf_counter() - built:.0f} s")
        return big


def measure(name: str, run: Run) -> Iterator[Figure | str]:
    """Yield a section's figures and sentences; whatever stops it is printed, and the last thing raised is the reason."""
    module, _ = SECTIONS[name]
    section: Callable[[Run], Iterator[Figure | str]] = importlib.import_module(module).section
    yield from section(run)


def report(name: str, run: Run) -> tuple[list[Figure], bool]:
    """Print a section as a table; return its figures and whether all of them could be taken."""
    from tests.bench.figures import Figure, lines

    taken: list[Figure] = []
    is_complete = True
    print(f"\n{SECTIONS[name][1]}", flush=True)
    try:
        for one in measure(name, run):
            if isinstance(one, Figure):
                taken.append(one)
            else:
                print(f"  {one}", flush=True)
    except Exception:  # noqa: BLE001 - whatever stops one section, the others are still measured
        traceback.print_exc()
        is_complete = False
    if taken:
        print(*(f"  {line}" for line in lines(taken)), sep="\n", flush=True)
    return taken, is_complete
