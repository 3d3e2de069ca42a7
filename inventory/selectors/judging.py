"""The judgement on what stands, for pages that only read."""

from __future__ import annotations

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument
from inventory.rules.verdict import Judgement, judge


def standing_judgement(instrument: Instrument, *, level: str = "first_year") -> Judgement:
    """Judge the standing findings at a level; two queries."""
    trade, kind = catalog(), instrument.kind
    return judge(
        kind=kind,
        findings=Finding.objects.filter(instrument=instrument).standing().facts(),
        faults=trade.faults,
        roles=trade.roles,
        chart=chart_of(kind, instrument.options),
        options=instrument.options,
        settings=trade.settings,
        level=level,
        inspected=instrument.inspections.finished().exists(),
    )
