"""How often a play test calls out a sound note, and finds one that moved; the same for drift over the years."""

from __future__ import annotations

from collections.abc import Iterator

from inventory.catalog.load import catalog
from inventory.rules.playing.reports import NoteResult
from inventory.selectors.standing import standing_for
from tests.bench.sections import Run
from tests.simulation.tuned_instruments import drift_shares, shares

LEAST_NOTES = 5


def section(run: Run) -> Iterator[str]:
    count = 200 if run.is_quick else 1000
    reports = {code: notes_of(code) for code, kind in catalog().kinds.items() if kind.levels}
    every = [notes for kind in reports.values() for notes in kind]
    for name, drawn in (("all kinds", every), ("trumpets", reports["trumpet"])):
        for earlier, siblings, scatter in (
            (0, 0, 4.0),
            (0, 5, 4.0),
            (1, 0, 4.0),
            (2, 0, 4.0),
            (0, 0, 6.0),
            (2, 0, 6.0),
        ):
            one = shares(drawn, count=count, earlier=earlier, siblings=siblings, scatter=scatter)
            yield (
                f"{name}, {earlier} earlier tests, {siblings} of its model, scatter {scatter:.0f} cents: called out though "
                f"sound {one.false:.1%}, a note moved 25 cents found {one.found:.1%}, all 35 flat said {one.whole:.1%}"
            )
    for tests in (None, 3, 4, 6, 8):
        for scatter in (1.4, 4.0, 6.0):
            false, found = drift_shares(count=count, scatter=scatter, tests=tests)
            yield (
                f"drift, {tests or '3 to 8'} tests in two years that scatter by {scatter:g} cents: flagged though it "
                f"holds {false:.1%}, 25 cents flatter found {found:.1%}"
            )


def notes_of(code: str) -> list[tuple[NoteResult, ...]]:
    reports = standing_for(code, {}).reports.values()
    return [report.notes for report in reports if len(report.notes) >= LEAST_NOTES]
