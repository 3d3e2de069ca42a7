"""What the drawings of an instrument show: its parts with their worst findings, and its first-year notes; also in words."""

from __future__ import annotations

from inventory.rules.picture.shapes import Mark
from inventory.rules.standing import Standing
from inventory.rules.verdict import EffectGroup

RANK = {EffectGroup.LOOKS: 0, EffectGroup.LIMITS: 1, EffectGroup.STOPS: 2}


def marks_of(standing: Standing) -> dict[str, Mark]:
    """Part code -> worst finding in a few words, of the parts that it has."""
    marks: dict[str, Mark] = {}
    for effect in standing.judgement.effects:
        part, group = effect.finding.part, effect.group
        if standing.kind.has(part) and (part not in marks or RANK[group] > RANK[marks[part].group]):
            marks[part] = Mark(group=group, text=standing.catalog.fault_name(effect.finding.fault))
    return marks
