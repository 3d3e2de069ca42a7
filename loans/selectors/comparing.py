"""What changed while an instrument was out, read from its two inspections."""

from __future__ import annotations

from collections.abc import Sequence

from inventory.catalog.load import catalog
from inventory.models import Finding, Inspection, Instrument
from inventory.rules.facts import FindingFact
from loans.rules.compare import Compared, compare


def facts_of(inspection: Inspection | None) -> tuple[FindingFact, ...]:
    """Return the findings of one inspection; none without one."""
    return inspection.findings.all().facts() if inspection else ()


def compare_inspections(
    *, instrument: Instrument, hand_out: Inspection | None, taken_back: Inspection | None
) -> tuple[Compared, ...]:
    """Compare the inspections at hand-out and return; without the second, nothing has changed."""
    found = facts_by_inspection([one for one in (hand_out, taken_back) if one])
    before = found[hand_out.pk] if hand_out else ()
    return compare(
        before=before,
        after=found[taken_back.pk] if taken_back else before,
        faults=catalog().faults,
        walk=[part.code for part in instrument.kind.parts],
        looked_at=set(taken_back.looks.values_list("part", flat=True)) if taken_back else None,
    )


def facts_by_inspection(inspections: Sequence[Inspection]) -> dict[int, tuple[FindingFact, ...]]:
    """Return the findings of each inspection, in one query."""
    rows = list(Finding.objects.filter(inspection__in=inspections))
    return {one.pk: tuple(row.fact for row in rows if row.inspection_id == one.pk) for one in inspections}
