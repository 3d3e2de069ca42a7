"""What the drawings of an instrument show: its parts with their worst findings, and its first-year notes; also in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.catalog.schema import Kind
from inventory.models import Photo
from inventory.rules.facts import FindingFact
from inventory.rules.picture.shapes import Mark
from inventory.rules.standing import Standing
from inventory.rules.verdict import EffectGroup

RANK = {EffectGroup.LOOKS: 0, EffectGroup.LIMITS: 1, EffectGroup.STOPS: 2}


@dataclass(frozen=True, slots=True)
class FoundLine:
    """A finding in words beside a picture, with the number of its part's sign; None for a part it does not show."""

    number: int | None
    group: EffectGroup | None
    words: str


@dataclass(frozen=True, slots=True)
class PhotoLine:
    """A photo with the station of its part on the picture; 0 and "" where it is of no part that the picture shows."""

    photo: Photo
    number: int
    part: str

    @property
    def anchor(self) -> str:
        return f"photo-{self.photo.pk}"


def station_numbers(kind: Kind) -> dict[str, int]:
    """Part code -> the number of its station on the picture."""
    return {part.code: number for number, part in enumerate(kind.parts, start=1)}


def photo_lines(kind: Kind, photos: Iterable[Photo]) -> tuple[PhotoLine, ...]:
    """Return the photos in their order, each with its station."""
    numbers = station_numbers(kind)
    return tuple(
        PhotoLine(photo, numbers[photo.part], kind.part(photo.part).name)
        if photo.part in numbers
        else PhotoLine(photo, 0, "")
        for photo in photos
    )


def found_lines(standing: Standing, kind: Kind, findings: Iterable[tuple[FindingFact, str]]) -> tuple[FoundLine, ...]:
    """Return the findings as the picture of the kind numbers their parts, in that order; those it does not show last."""
    groups = {effect.finding.key: effect.group for effect in standing.judgement.effects}
    return numbered(kind, [(fact.part, groups.get(fact.key), words) for fact, words in findings])


def numbered(kind: Kind, found: Iterable[tuple[str, EffectGroup | None, str]]) -> tuple[FoundLine, ...]:
    """Return the same of findings that are kept as part, effect and words."""
    numbers = station_numbers(kind)
    lines = [FoundLine(numbers.get(part), group, words) for part, group, words in found]
    return tuple(sorted(lines, key=lambda line: line.number or len(numbers) + 1))


def marks_of(standing: Standing) -> dict[str, Mark]:
    """Part code -> worst finding in a few words, of the parts that it has."""
    effects = standing.judgement.effects
    return worst_marks(
        standing.kind,
        [(one.finding.part, one.group, standing.catalog.fault_name(one.finding.fault)) for one in effects],
    )


def worst_marks(kind: Kind, found: Iterable[tuple[str, EffectGroup | None, str]]) -> dict[str, Mark]:
    """Return the same of findings that are kept as part, effect and words."""
    marks: dict[str, Mark] = {}
    for part, group, words in found:
        if group and kind.has(part) and (part not in marks or RANK[group] > RANK[marks[part].group]):
            marks[part] = Mark(group=group, text=words)
    return marks
