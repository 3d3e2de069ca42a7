"""What the pattern of failed notes says by itself, by the trade's rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from inventory.catalog.chart_schema import BrassChart, Chart, HoleChart
from inventory.catalog.schema import Kind
from inventory.rules.pitch import midi_of
from inventory.rules.playing.valves import usual_fingering

REED = "reed"  # role of the part
HIGH = 2 / 3  # of the notes played: what lies above is high for whoever plays these. A shop default


def _first_going_down(chart: HoleChart, failed: frozenset[str]) -> str:
    """Return the highest failed note of the lowest register that has one: upper registers repeat its holes."""
    return min(failed, key=lambda name: (chart.fingerings[name][0].register, -midi_of(name)))


def newly_shut(chart: Chart | None, *, names: Sequence[str], failed: frozenset[str]) -> frozenset[str]:
    """Return the holes that the descending rule names: shut for the first note to fail, not for the one above it.

    A leak there spoils what lies below, too: where the next note down speaks, the rule names nothing.
    """
    if not isinstance(chart, HoleChart) or not failed:
        return frozenset()
    first = _first_going_down(chart, failed)
    register = chart.fingerings[first][0].register
    below = [name for name in names if midi_of(name) < midi_of(first)]
    above = [name for name in names if midi_of(name) > midi_of(first)]
    if not above or (below and below[-1] not in failed and chart.fingerings[below[-1]][0].register == register):
        return frozenset()
    return chart.fingerings[first][0].must_seal - chart.fingerings[above[0]][0].must_seal


def hints(
    chart: Chart | None, *, kind: Kind, options: Mapping[str, str], names: Sequence[str], failed: frozenset[str]
) -> Iterable[str]:
    """Say what the pattern of failed notes alone tells, by the trade's rules; what to look at first comes first."""
    if not failed:
        return
    ordered = [name for name in names if name in failed]
    player = "the player and the reed" if any(part.role == REED for part in kind.parts) else "the player"
    is_everything = len(ordered) == len(names) > 1
    if is_everything and chart is None:
        yield "Everything fails: look first at what carries all the bars."
    elif is_everything:
        yield f"Everything fails: look first where all the air passes, and at the mouthpiece and {player}."
    elif isinstance(chart, HoleChart) and failed == _upper(chart, names=names):
        yield f"All of the upper register and nothing below: {player} first, then the vent."
    elif chart is not None and names.index(ordered[0]) >= HIGH * len(names):
        yield f"Only high notes fail: {player} first."
    if isinstance(chart, HoleChart):
        yield from _hole_hints(chart, names=names, ordered=ordered)
    elif isinstance(chart, BrassChart):
        chosen = {option.code: option.default for option in kind.options} | dict(options)
        yield from _valve_hint([usual_fingering(chart, options=chosen, written=name) for name in ordered])


def _upper(chart: HoleChart, *, names: Sequence[str]) -> frozenset[str]:
    return frozenset(name for name in names if chart.fingerings[name][0].register > 1)


def _hole_hints(chart: HoleChart, *, names: Sequence[str], ordered: Sequence[str]) -> Iterable[str]:
    failed = frozenset(ordered)
    holes = {hole.id: hole.name or hole.id for hole in chart.holes}
    fresh = newly_shut(chart, names=names, failed=failed)
    if fresh:
        listed = ", ".join(holes[hole] for hole in holes if hole in fresh)
        yield f"Going down, {_first_going_down(chart, failed)} fails first; newly shut there: {listed}."
    below = [name for name in names if midi_of(name) < midi_of(ordered[-1])]
    if len(ordered) == 1 and below:
        yield f"Only {ordered[0]} fails and lower notes speak: a sticky or bent key more likely than a leak."


def _valve_hint(fingerings: Sequence[str]) -> Iterable[str]:
    """Say which valves the usual fingerings on this instrument share."""
    if len(fingerings) < 2:
        return
    digits = [{one for one in fingering if one in "1234"} for fingering in fingerings]
    shared = sorted(set.intersection(*digits))
    said = [f"valve {' and '.join(shared)}"] if shared else []
    said += ["the thumb valve"] if all(fingering.startswith("T") for fingering in fingerings) else []
    if said:
        yield f"Every failed note is usually played with {' and '.join(said)}."
    elif not any(digits):
        yield "Only open notes fail: a valve that stays down, the leadpipe, the mouthpiece or the player."
