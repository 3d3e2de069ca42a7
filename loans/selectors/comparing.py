"""What an instrument went out with, and what changed while it was out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from django.utils.translation import gettext

from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind
from inventory.models import (
    Finding,
    Inspection,
    PartLook,
)
from inventory.rules.facts import FindingFact
from loans.models import Loan
from loans.rules.compare import Compared, compare


def handed_out_with(loan: Loan) -> tuple[FindingFact, ...]:
    """Return the findings it went out with: the hand-out inspection's, without what was repaired before it went."""
    return Finding.objects.filter(inspection=loan.hand_out_id).open_at(loan.lent_at).facts() if loan.hand_out_id else ()


def handed_out_with_each(loans: Collection[Loan]) -> Mapping[int, tuple[FindingFact, ...]]:
    """Return the same of many loans, by the loan's key. One query."""
    found: dict[int, list[Finding]] = defaultdict(list)
    for row in Finding.objects.filter(inspection__in={loan.hand_out_id for loan in loans if loan.hand_out_id}):
        found[row.inspection_id].append(row)
    return {
        loan.pk: tuple(
            row.fact
            for row in found.get(loan.hand_out_id or 0, ())
            if row.closed_at is None or row.closed_at > loan.lent_at
        )
        for loan in loans
    }


def compare_inspections(*, loan: Loan, taken_back: Inspection | None) -> tuple[Compared, ...]:
    """Compare how it went out with the inspection at return; without one, nothing has changed."""
    before = handed_out_with(loan)
    return compare(
        before=before,
        after=Finding.objects.filter(inspection=taken_back).facts() if taken_back else before,
        faults=catalog().faults,
        walk=[part.code for part in loan.instrument.kind.parts],
        looked_at=set(PartLook.objects.filter(inspection=taken_back).values_list("part", flat=True))
        if taken_back
        else None,
    )


def finding_in_words(kind: Kind, *, part: str, place: str, fault: str) -> tuple[str, str]:
    """Return where and what: ("Third valve slide", "seized"). Codes no longer in the catalog are shown as they are."""
    return kind.where(part, place), catalog().fault_name(fault)


def findings_in_words(kind: Kind, facts: Sequence[FindingFact]) -> tuple[str, ...]:
    """Return each finding as a line: "Third valve slide: seized, moderate"."""
    lines = []
    for fact in facts:
        where, fault = finding_in_words(kind, part=fact.part, place=fact.place, fault=fact.fault)
        lines.append(f"{where}: {fault}, {gettext(fact.severity.value)}")
    return tuple(lines)
