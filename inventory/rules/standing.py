"""What is true of one instrument at a moment: how it is built, what is wrong with it, and what that does to playing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from core.translation import gettext as _
from inventory.catalog.chart_schema import Chart
from inventory.catalog.schema import Catalog, Effect, Kind
from inventory.rules.facts import FindingFact, Owed
from inventory.rules.playing import LEVELS, PlayingReport
from inventory.rules.verdict import EffectGroup, FindingEffect, Judgement, finding_name, judge

FIRST_YEAR = "first_year"


@dataclass(frozen=True)
class Standing:
    """An instrument as it stands. A value: hashable, and judged once for each level."""

    catalog: Catalog
    whole_kind: Kind  # with the parts of every option
    options: Mapping[str, str] = field(hash=False)  # every option of its kind with its choice
    chart: Chart | None = field(compare=False)  # follows from kind and options
    findings: tuple[FindingFact, ...]  # on parts that it has
    gone: tuple[FindingFact, ...]  # on parts or places that it no longer has
    is_inspected: bool
    owed: frozenset[Owed] = frozenset()  # cleaning due whatever the findings are
    slide_mm: float | None = None  # how far the main tuning slide was out when it was last played
    _judged: dict[str, Judgement] = field(default_factory=dict, init=False, repr=False, compare=False)

    @cached_property
    def kind(self) -> Kind:
        """The kind as this instrument is built."""
        return self.whole_kind.built(self.options)

    @cached_property
    def clef(self) -> str:
        return getattr(self.chart, "clef", "") or self.kind.clef

    @property
    def is_known(self) -> bool:
        """Whether the catalog still has its kind."""
        return self.kind.code in self.catalog.kinds

    @property
    def judgement(self) -> Judgement:
        """The judgement for the first year, which the stored verdict follows."""
        return self.at(FIRST_YEAR)

    @cached_property
    def effects(self) -> Mapping[FindingFact, Effect]:
        return {effect.finding: effect.effect for effect in self.judgement.effects}

    @cached_property
    def reports(self) -> Mapping[str, PlayingReport]:
        """What it still plays at every level that its kind states a range for."""
        stated = [
            level
            for level in LEVELS
            if level in self.kind.levels or (level == FIRST_YEAR and self.kind.first_year is not None)
        ]
        return {level: self.at(level).report for level in stated}

    @property
    def widest_report(self) -> PlayingReport:
        """The report of the level with the most notes: a play test may go beyond the first year."""
        return max(self.reports.values(), key=lambda report: len(report.notes), default=self.judgement.report)

    def at(self, level: str) -> Judgement:
        """Judge it for players of a level. KeyError for a level that does not exist."""
        if level not in self._judged:
            judgement = judge(
                kind=self.kind,
                findings=self.findings,
                faults=self.catalog.faults,
                roles=self.catalog.roles,
                chart=self.chart,
                options=self.options,
                settings=self.catalog.settings,
                level=level,
                inspected=self.is_inspected,
                slide_mm=self.slide_mm,
            )
            gone = tuple(self._effect_of_gone(finding) for finding in self.gone)
            self._judged[level] = replace(judgement, effects=judgement.effects + gone)
        return self._judged[level]

    def _effect_of_gone(self, finding: FindingFact) -> FindingEffect:
        part = next((one for one in self.whole_kind.parts if one.code == finding.part), None)
        name = finding_name(finding=finding, part=part, faults=self.catalog.faults)
        return FindingEffect(
            finding=finding,
            effect=Effect.LOOKS_ONLY,
            group=EffectGroup.LOOKS,
            sentence=_("%(finding)s: on a part this instrument no longer has.", finding=name),
        )


def standing(
    *,
    catalog: Catalog,
    kind: Kind,
    options: Mapping[str, str],
    chart: Chart | None,
    findings: Iterable[FindingFact],
    is_inspected: bool = True,
    owed: frozenset[Owed] = frozenset(),
    slide_mm: float | None = None,
) -> Standing:
    """Sort the findings by whether the instrument still has their part, in the order given."""
    built, known = kind.built(options), tuple(findings)
    return Standing(
        catalog=catalog,
        whole_kind=kind,
        options=options,
        chart=chart,
        findings=tuple(fact for fact in known if built.has(fact.part, fact.place)),
        gone=tuple(fact for fact in known if not built.has(fact.part, fact.place)),
        is_inspected=is_inspected,
        owed=owed,
        slide_mm=slide_mm,
    )
