"""What the pattern of failed notes says by itself, by the trade's rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet

from core.translation import gettext as _
from inventory.catalog.chart_schema import BrassChart, Chart, HoleChart, Rest
from inventory.catalog.schema import Fault, FaultWay, Kind
from inventory.rules.facts import FindingFact
from inventory.rules.notes import shown_note, signed
from inventory.rules.pitch import midi_of
from inventory.rules.playing.readings import valve_of
from inventory.rules.playing.valves import THUMB, usual_fingering

REED = "reed"  # role of the part
STAYS_SHUT = frozenset({FaultWay.STICKS, FaultWay.BINDS, FaultWay.UNSPRUNG, FaultWay.CLOGS})
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
    chart: Chart | None,
    *,
    kind: Kind,
    options: Mapping[str, str],
    faults: Mapping[str, Fault],
    names: Sequence[str],
    failed: frozenset[str],
    first: Sequence[FindingFact],
) -> Iterable[str]:
    """Say what the pattern of failed notes alone tells, by the trade's rules; what to look at first comes first.

    ``first`` are the suspects in first place, best first. They weigh every note, a rule of thumb only some: what a rule
    names is said where they say so too.
    """
    if not failed:
        return
    ordered = [name for name in names if name in failed]
    player = _("the player and the reed") if any(part.role == REED for part in kind.parts) else _("the player")
    is_everything = len(ordered) == len(names) > 1
    if is_everything and chart is None:
        yield _("Everything fails: look first at what carries all the bars.")
    elif is_everything:
        yield _(
            "Everything fails: look first where all the air passes, and at the mouthpiece and %(player)s.",
            player=player,
        )
    elif isinstance(chart, HoleChart) and failed == _upper(chart, names=names):
        keyed = {hole.id for hole in chart.holes if hole.rest is Rest.CLOSED}  # a flute's first finger is no vent
        vents = {vent for name in failed for vent in chart.fingerings[name][0].vents} & keyed
        if vents & {one.place for one in first}:
            player = _("%(player)s first, then the vent", player=player)
        else:
            player = _("%(player)s first", player=player)
        yield _("All of the upper register and nothing below: %(look)s.", look=player)
    elif chart is not None and names.index(ordered[0]) >= HIGH * len(names):
        yield _("Only high notes fail: %(player)s first.", player=player)
    if isinstance(chart, HoleChart):
        yield from _hole_hints(chart, names=names, ordered=ordered, faults=faults, first=first)
    elif isinstance(chart, BrassChart):
        chosen = kind.chosen(options)
        fingerings = [usual_fingering(chart, options=chosen, written=name) for name in ordered]
        valves = {valve_of(kind.part(one.part), place=one.place) for one in first} - {""}
        yield from _valve_hint(fingerings, suspected=valves)


def _upper(chart: HoleChart, *, names: Sequence[str]) -> frozenset[str]:
    return frozenset(name for name in names if chart.fingerings[name][0].register > 1)


def _hole_hints(
    chart: HoleChart,
    *,
    names: Sequence[str],
    ordered: Sequence[str],
    faults: Mapping[str, Fault],
    first: Sequence[FindingFact],
) -> Iterable[str]:
    failed = frozenset(ordered)
    suspected = {one.place for one in first} | {chart.joints.get(one.part, one.part) for one in first}
    fresh = newly_shut(chart, names=names, failed=failed) & suspected
    if fresh:
        listed = ", ".join(signed(hole.name or hole.id) for hole in chart.holes if hole.id in fresh)
        note = shown_note(_first_going_down(chart, failed))
        yield _("Going down, %(note)s fails first; newly shut there: %(holes)s.", note=note, holes=listed)
    below = [name for name in names if midi_of(name) < midi_of(ordered[-1])]
    ways = [faults[one.fault].ways if one.fault in faults else () for one in first]
    if len(ordered) == 1 and below and ways and STAYS_SHUT.intersection(ways[0]):
        yield _(
            "Only %(note)s fails and lower notes speak: a sticky or bent key, or dirt in its hole, is likelier than a leak.",
            note=shown_note(ordered[0]),
        )


def _valve_hint(fingerings: Sequence[str], *, suspected: AbstractSet[str]) -> Iterable[str]:
    """Say which valves the usual fingerings on this instrument share."""
    if len(fingerings) < 2:
        return
    digits = [{one for one in fingering if one in "1234"} for fingering in fingerings]
    shared = sorted(set.intersection(*digits) & suspected)
    names = [_("valve %(valves)s", valves=_(" and ").join(shared))] if shared else []
    names += [_("the thumb valve")] if THUMB in suspected and all(one.startswith(THUMB) for one in fingerings) else []
    if names:
        yield _("Every failed note is usually played with %(valves)s.", valves=_(" and ").join(names))
    elif not any(digits) and suspected:
        yield _("Only open notes fail: a valve that stays down, or the player.")
