"""What to play to tell apart suspects that explain the failed notes equally well."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import Fault, Kind, Role
from inventory.rules.facts import FindingFact
from inventory.rules.pitch import midi_of
from inventory.rules.playing import speaking

# At one spot: each fault, or pair of faults, that would explain the notes.
Spotted = tuple[tuple[FindingFact, ...], ...]


@dataclass(frozen=True, slots=True)
class Trial:
    """A note to play. ``fails`` and ``speaks`` are the numbers of the spots that say so; a spot may be in neither."""

    written: str
    fingering: str  # "": the usual one
    fails: tuple[int, ...]
    speaks: tuple[int, ...]


def parting_trial(
    spots: Sequence[Spotted],
    *,
    kind: Kind,
    chart: Chart | None,
    options: Mapping[str, str],
    faults: Mapping[str, Fault],
    roles: Mapping[str, Role],
    played: AbstractSet[str],
) -> Trial | None:
    """Return the note that parts the most spots, None where all predict the same of every note.

    Notes not played yet count with their usual fingering, all with any other that a sound instrument has. Of several
    the one that leaves fewest spots untold, parts most evenly, needs no other fingering, and lies nearest to what was
    played.
    """
    best: tuple[tuple[int, int, bool, int], Trial] | None = None
    near = [midi_of(name) for name in played]
    for level in kind.levels:

        def sounding(findings: Sequence[FindingFact], level: str = level) -> dict[tuple[str, str], bool]:
            return speaking(
                kind=kind, chart=chart, options=options, findings=findings, faults=faults, roles=roles, level=level
            )

        outcomes_by_spot = [[sounding(findings) for findings in spot] for spot in spots]
        for (written, fingering), is_sound in sounding(()).items():
            if not is_sound or (not fingering and written in played):
                continue
            says = [{one[written, fingering] for one in spot} for spot in outcomes_by_spot]
            fails = tuple(number for number, outcomes in enumerate(says) if outcomes == {False})
            speaks = tuple(number for number, outcomes in enumerate(says) if outcomes == {True})
            if fails and speaks:
                away = min((abs(midi_of(written) - midi) for midi in near), default=0)
                rank = (len(spots) - len(fails) - len(speaks), abs(len(fails) - len(speaks)), bool(fingering), away)
                if best is None or rank < best[0]:
                    best = (rank, Trial(written, fingering, fails, speaks))
    return best[1] if best else None
