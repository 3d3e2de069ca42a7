"""The judgement on what stands: the one place that feeds the rule from the rows. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument
from inventory.rules.facts import FindingFact
from inventory.rules.playing import PITCH_LIMIT, PlayingReport, reports_by_level
from inventory.rules.verdict import PITCH, Judgement, judge


def judgement_of(
    instrument: Instrument,
    *,
    level: str = "first_year",
    inspected: bool | None = None,
    findings: Sequence[FindingFact] | None = None,
) -> Judgement:
    """Judge the standing findings. A query for each of ``findings`` and ``inspected`` that is not given; writes nothing."""
    trade = catalog()
    kind = instrument.kind
    return judge(
        kind=kind,
        findings=Finding.objects.filter(instrument=instrument).standing().facts() if findings is None else findings,
        faults=trade.faults,
        roles=trade.roles,
        chart=chart_of(kind, instrument.options),
        options=instrument.options,
        settings=trade.settings,
        level=level,
        inspected=instrument.inspections.finished().exists() if inspected is None else inspected,
    )


def standing_reports(instruments: Iterable[Instrument]) -> dict[int, dict[str, PlayingReport]]:
    """What each instrument still plays at every level of its kind, by primary key. One query for all of them."""
    horns = list(instruments)
    facts: dict[int, list[FindingFact]] = {horn.pk: [] for horn in horns}
    for row in Finding.objects.filter(instrument__in=list(facts)).standing():
        facts[row.instrument_id].append(row.fact)
    return {horn.pk: level_reports(horn, findings=tuple(facts[horn.pk])) for horn in horns}


def level_reports(instrument: Instrument, *, findings: tuple[FindingFact, ...]) -> dict[str, PlayingReport]:
    """The same for one instrument whose findings the caller has. No query."""
    trade, kind = catalog(), instrument.kind
    return reports_by_level(
        kind=kind,
        chart=chart_of(kind, instrument.options),
        options=instrument.options,
        findings=findings,
        faults=trade.faults,
        roles=trade.roles,
        pitch_limit=float(trade.settings.get(PITCH, PITCH_LIMIT)),
    )
