"""What the drawings of an instrument show: its parts with their worst findings, and its first-year notes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import Instrument
from inventory.rules.facts import FindingFact
from inventory.rules.picture.shapes import Group, Mark
from inventory.rules.playing import LevelFit, NoteResult, NoteState, for_everybody, level_fits
from inventory.rules.verdict import Judgement, judge
from inventory.selectors.charts import is_unconfirmed
from inventory.selectors.judging import level_reports

RANK = {Group.LOOKS: 0, Group.LIMITS: 1, Group.STOPS: 2}


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
        return any(mark.group is Group.STOPS for mark in self.marks.values())

    @property
    def has_limits(self) -> bool:
        return any(mark.group is Group.LIMITS for mark in self.marks.values())

    @property
    def has_looks(self) -> bool:
        return any(mark.group is Group.LOOKS for mark in self.marks.values())

    @property
    def is_all_usual(self) -> bool:
        return all(note.state is NoteState.USUAL for note in self.notes)

    @property
    def hurts_nobody(self) -> bool:
        return all(fit.is_unhurt and not fit.other for fit in self.fits)


def marks_of(judgement: Judgement) -> dict[str, Mark]:
    """Part code -> worst finding in a few words."""
    trade = catalog()
    marks: dict[str, Mark] = {}
    for effect in judgement.effects:
        part, group = effect.finding.part, Group(effect.group.value)
        if part not in marks or RANK[group] > RANK[marks[part].group]:
            marks[part] = Mark(group=group, text=trade.fault_name(effect.finding.fault))
    return marks


def drawn(instrument: Instrument, *, findings: Iterable[FindingFact]) -> Drawn:
    """Draw the instrument as it stood with these findings. One query where its chart may need a mark."""
    trade, kind, facts = catalog(), instrument.kind, tuple(findings)
    built = replace(kind, parts=instrument.parts)
    codes = {part.code for part in built.parts}
    chart = chart_of(kind, instrument.options)
    judgement = judge(
        kind=kind,
        findings=facts,
        faults=trade.faults,
        roles=trade.roles,
        chart=chart,
        options=instrument.options,
        settings=trade.settings,
    )
    marks = {code: mark for code, mark in marks_of(judgement).items() if code in codes}
    reports = level_reports(instrument, findings=facts)
    return Drawn(
        kind=built,
        marks=marks,
        notes=judgement.report.notes,
        marked=tuple(
            f"{number} {part.name}, {marks[part.code].text}"
            for number, part in enumerate(built.parts, start=1)
            if part.code in marks
        ),
        fits=level_fits(reports=reports),
        everybody=for_everybody(reports=reports),
        clef=getattr(chart, "clef", "") or kind.clef,
        is_unconfirmed=is_unconfirmed(chart),
    )
