"""What was found in words, and what changed while it was away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.models import Finding, Inspection, Instrument
from inventory.rules.facts import FindingFact
from loans.models import Loan
from loans.rules.compare import CAUSE_WORDS, CHANGE_WORDS, Change, Compared, compare, in_a_sentence


def finding_in_words(instrument: Instrument, *, part: str, place: str, fault: str) -> tuple[str, str]:
    """Say where and what: ("Third valve slide", "seized"). Codes that the catalog has lost stay as they are."""
    return instrument.kind.where(part, place), catalog().fault_name(fault)


def findings_in_words(instrument: Instrument, inspection: Inspection | None) -> tuple[str, ...]:
    """Each finding of the inspection as a line: "Third valve slide: seized, moderate"."""
    return facts_in_words(instrument, inspection.findings.all().facts() if inspection else ())


def facts_in_words(instrument: Instrument, facts: Sequence[FindingFact]) -> tuple[str, ...]:
    lines = []
    for fact in facts:
        where, fault = finding_in_words(instrument, part=fact.part, place=fact.place, fault=fact.fault)
        lines.append(f"{where}: {fault}, {fact.severity.value}")
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class ComparedRow:
    """One line of the page: where, what, then, now. ``change`` is the code, ``said`` the word for it."""

    where: str
    fault: str
    before: str
    after: str
    change: str
    said: str
    cause: str


@dataclass(frozen=True, slots=True)
class Comparison:
    rows: tuple[ComparedRow, ...]
    sentence: str
    is_changed: bool


def comparison(*, instrument: Instrument, hand_out: Inspection | None, taken_back: Inspection | None) -> Comparison:
    """The two inspections side by side; without the second, what was noted at hand-out."""
    found = facts_by_inspection([one for one in (hand_out, taken_back) if one])
    before = found[hand_out.pk] if hand_out else ()
    if taken_back is None:
        after, looked = before, None
    else:
        after = found[taken_back.pk]
        looked = set(taken_back.looks.values_list("part", flat=True))
    rows = compare(
        before=before,
        after=after,
        faults=catalog().faults,
        walk=[part.code for part in instrument.kind.parts],
        looked_at=looked,
    )
    return Comparison(
        rows=tuple(_row_in_words(instrument, row) for row in rows),
        sentence=in_a_sentence(rows),
        is_changed=any(row.change is not Change.SAME for row in rows),
    )


def facts_by_inspection(inspections: Sequence[Inspection]) -> dict[int, tuple[FindingFact, ...]]:
    """What each found, in one query."""
    rows = list(Finding.objects.filter(inspection__in=inspections))
    return {one.pk: tuple(row.fact for row in rows if row.inspection_id == one.pk) for one in inspections}


def _row_in_words(instrument: Instrument, row: Compared) -> ComparedRow:
    where, fault = finding_in_words(instrument, part=row.part, place=row.place, fault=row.fault)
    return ComparedRow(
        where=where,
        fault=fault,
        before=_severity(row.before),
        after=_severity(row.after),
        change=row.change.value,
        said=CHANGE_WORDS[row.change],
        cause=CAUSE_WORDS[row.cause] if row.cause else "",
    )


def _severity(severity: Severity | None) -> str:
    return severity.value if severity else "—"


def accessories_compared(loan: Loan) -> list[dict[str, Any]]:
    """What went along and what came back, by name; ``back`` is None while it is out."""
    back = {row["code"]: row["count"] for row in loan.accessories_back}
    is_back = loan.returned_at is not None
    return [
        {
            "name": row["name"],
            "code": row["code"],
            "count": row["count"],
            "back": back.get(row["code"], 0) if is_back else None,
            "is_short": is_back and back.get(row["code"], 0) < row["count"],
        }
        for row in loan.accessories
    ]
