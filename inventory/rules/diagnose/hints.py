"""What the pattern of failed notes says by itself, by the trade's rules."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inventory.catalog.chart_schema import BrassChart, Chart, HoleChart
from inventory.rules.pitch import midi_of


def _first_going_down(chart: HoleChart, failed: frozenset[str]) -> str:
    """Return the highest failed note of the lowest register that has one: upper registers repeat its holes."""
    return min(failed, key=lambda name: (chart.fingerings[name][0].register, -midi_of(name)))


def newly_shut(chart: Chart | None, *, names: Sequence[str], failed: frozenset[str]) -> frozenset[str]:
    """Return the holes that the descending rule names: shut for the first note to fail, not for the one above it."""
    if not isinstance(chart, HoleChart) or not failed:
        return frozenset()
    first = _first_going_down(chart, failed)
    above = [name for name in names if midi_of(name) > midi_of(first)]
    now = chart.fingerings[first][0].must_seal
    return now - chart.fingerings[above[0]][0].must_seal if above else frozenset()


def hints(chart: Chart | None, *, names: Sequence[str], failed: frozenset[str]) -> Iterable[str]:
    """Say what the pattern of failed notes alone tells, by the trade's rules."""
    if not failed:
        return
    ordered = [name for name in names if name in failed]
    if len(ordered) == len(names) and len(names) > 1:
        yield "Everything fails: look first where all the air passes, and at mouthpiece, reed and player."
    if isinstance(chart, HoleChart):
        holes = {hole.id: hole.name or hole.id for hole in chart.holes}
        fresh = newly_shut(chart, names=names, failed=failed)
        if fresh:
            listed = ", ".join(holes[hole] for hole in holes if hole in fresh)
            yield f"Going down, {_first_going_down(chart, failed)} fails first; newly shut there: {listed}."
        below = [name for name in names if midi_of(name) < midi_of(ordered[-1])]
        if len(ordered) == 1 and below:
            yield f"Only {ordered[0]} fails and lower notes speak: a sticky or bent key more likely than a leak."
        upper = {name for name in names if chart.fingerings[name][0].register > 1}
        if set(ordered) == upper:
            yield "All of the upper register and nothing below: the vent, the reed or the player."
    elif isinstance(chart, BrassChart):
        yield from _valve_hint(chart, ordered=ordered)


def _valve_hint(chart: BrassChart, *, ordered: Sequence[str]) -> Iterable[str]:
    shared = set.intersection(*({digit for digit in chart.usual[name] if digit in "1234"} for name in ordered))
    if len(ordered) > 1 and shared:
        yield f"Every failed note is usually played with valve {' and '.join(sorted(shared))}."
    if len(ordered) > 1 and not any(digit in "1234" for name in ordered for digit in chart.usual[name]):
        yield "Only open notes fail: a valve that stays down, the leadpipe, the mouthpiece or the player."
