"""What the drawings of an instrument show: its parts with their worst findings, and its first-year notes; also in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from inventory.catalog.schema import Kind
from inventory.rules.picture.shapes import Mark
from inventory.rules.playing import LevelFit, NoteResult, NoteState, for_everybody, level_fits
from inventory.rules.standing import Standing
from inventory.rules.verdict import EffectGroup
from inventory.selectors.charts import is_unconfirmed

RANK = {EffectGroup.LOOKS: 0, EffectGroup.LIMITS: 1, EffectGroup.STOPS: 2}


@dataclass(frozen=True, slots=True)
class Drawn:
    """Both drawings for paper, with the same in words."""

    kind: Kind  # as this instrument is built
    marks: Mapping[str, Mark]
    notes: tuple[NoteResult, ...]
    marked: tuple[str, ...]  # each marked station: "7 third valve slide, stuck or seized slide"
    fits: tuple[LevelFit, ...]
    everybody: tuple[str, ...]  # what is in the way of every player alike
    clef: str
    is_unconfirmed: bool

    @property
    def has_stops(self) -> bool:
        return any(mark.group is EffectGroup.STOPS for mark in self.marks.values())

    @property
    def has_limits(self) -> bool:
        return any(mark.group is EffectGroup.LIMITS for mark in self.marks.values())

    @property
    def has_looks(self) -> bool:
        return any(mark.group is EffectGroup.LOOKS for mark in self.marks.values())

    @property
    def is_all_usual(self) -> bool:
        return all(note.state is NoteState.USUAL for note in self.notes)

    @property
    def hurts_nobody(self) -> bool:
        return all(fit.is_enough and not fit.other for fit in self.fits)


def marks_of(standing: Standing) -> dict[str, Mark]:
    """Part code -> worst finding in a few words, of the parts that it has."""
    marks: dict[str, Mark] = {}
    for effect in standing.judgement.effects:
        part, group = effect.finding.part, effect.group
        if standing.kind.has(part) and (part not in marks or RANK[group] > RANK[marks[part].group]):
            marks[part] = Mark(group=group, text=standing.catalog.fault_name(effect.finding.fault))
    return marks


def drawn(standing: Standing) -> Drawn:
    """Draw an instrument as it stands. One query where its chart may need a mark."""
    kind, marks = standing.kind, marks_of(standing)
    return Drawn(
        kind=kind,
        marks=marks,
        notes=standing.judgement.report.notes,
        marked=tuple(
            f"{number} {part.name}, {marks[part.code].text}"
            for number, part in enumerate(kind.parts, start=1)
            if part.code in marks
        ),
        fits=level_fits(reports=standing.reports),
        everybody=for_everybody(reports=standing.reports),
        clef=standing.clef,
        is_unconfirmed=is_unconfirmed(standing.chart),
    )
