"""What the drawings of an instrument show: its parts with their worst findings, and its first-year notes; also in words."""

from __future__ import annotations

from typing import Any

from inventory.rules.picture.shapes import Mark
from inventory.rules.playing import NoteState, for_everybody, level_fits
from inventory.rules.standing import Standing
from inventory.rules.verdict import EffectGroup
from inventory.selectors.charts import is_unconfirmed

RANK = {EffectGroup.LOOKS: 0, EffectGroup.LIMITS: 1, EffectGroup.STOPS: 2}


def marks_of(standing: Standing) -> dict[str, Mark]:
    """Part code -> worst finding in a few words, of the parts that it has."""
    marks: dict[str, Mark] = {}
    for effect in standing.judgement.effects:
        part, group = effect.finding.part, effect.group
        if standing.kind.has(part) and (part not in marks or RANK[group] > RANK[marks[part].group]):
            marks[part] = Mark(group=group, text=standing.catalog.fault_name(effect.finding.fault))
    return marks


def drawn(standing: Standing) -> dict[str, Any]:
    """Draw an instrument as it stands, for paper, with the same in words. One query where its chart may need a mark."""
    kind, marks, report = standing.kind, marks_of(standing), standing.judgement.report
    fits = level_fits(reports=standing.reports)
    return {
        "kind": kind,  # as this instrument is built
        "marks": marks,
        "signs": {mark.group for mark in marks.values()},
        "notes": report.notes,
        "is_all_usual": all(note.state is NoteState.USUAL for note in report.notes),
        # Each marked station: "7 third valve slide, stuck or seized slide".
        "marked": tuple(
            f"{number} {part.name}, {marks[part.code].text}"
            for number, part in enumerate(kind.parts, start=1)
            if part.code in marks
        ),
        "fits": fits,
        "hurts_nobody": all(fit.is_enough and not fit.other for fit in fits),
        "everybody": for_everybody(reports=standing.reports),  # what is in the way of every player alike
        "clef": standing.clef,
        "is_unconfirmed": is_unconfirmed(standing.chart),
    }
