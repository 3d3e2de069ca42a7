"""Reads of loans: who has what, what is late, what the paper says, what changed while it was away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from inventory.access import schools_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.models import District, Finding, Inspection, Instrument, School, Verdict
from inventory.rules.facts import FindingFact
from inventory.selectors.drawing import Drawn, drawn
from loans.models import Agreement, AgreementTerms, Loan, Student
from loans.rules.compare import CAUSE_WORDS, CHANGE_WORDS, Change, Compared, compare, in_a_sentence
from loans.rules.terms import DEFAULT_TERMS

FIRST_VERSION = (
    1  # always the program's own words, so that a page which shows them can name them before any row is written
)


def current_terms() -> AgreementTerms:
    """The newest version; where nobody has written any, the program's own as version 1, which is no row yet."""
    return AgreementTerms.objects.first() or AgreementTerms(text=DEFAULT_TERMS.strip(), version=FIRST_VERSION)


def terms_of_version(version: int) -> AgreementTerms | None:
    """One version as it was read on a page; the program's own count before they are a row."""
    newest = current_terms()
    if newest.version == version:
        return newest
    return AgreementTerms.objects.filter(version=version).first()


def schools_with_names(user: Any) -> frozenset[int]:
    """The schools whose students' names the user may read; elsewhere a loan is shown without the name."""
    return frozenset(schools_of(user, "loans.view_agreement").values_list("pk", flat=True))


def open_loan_of(instrument: Instrument) -> Loan | None:
    """The loan that it is out on, if it is out."""
    return Loan.objects.open().for_table().select_related("hand_out").filter(instrument=instrument).first()


def students_of(school: School) -> QuerySet[Student]:
    """Who can be lent to, with ``out`` as the number of instruments each has now."""
    return (
        Student.objects.current()
        .filter(school=school)
        .annotate(out=Count("loans", filter=Q(loans__returned_at=None)))
        .order_by("name", "pk")
    )


def finding_in_words(instrument: Instrument, *, part: str, place: str, fault: str) -> tuple[str, str]:
    """Say where and what: ("Third valve slide", "seized"). Codes that the catalog has lost stay as they are."""
    where = place_in_words(instrument, part=part, place=place)
    known = catalog().faults.get(fault)
    return where, known.name if known else fault.replace("_", " ")


def place_in_words(instrument: Instrument, *, part: str, place: str) -> str:
    try:
        stop = instrument.kind.part(part)
    except KeyError:
        return " ".join(filter(None, (part.replace("_", " "), place))).capitalize()
    words = stop.at(place)
    return words[:1].upper() + words[1:]


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


@dataclass(frozen=True, slots=True)
class AgreementPaper:
    """All that the signed paper says. Signatures are PNG bytes, empty where it was signed on paper."""

    district: str
    school: str
    student: str
    grade: str
    guardian: str
    asset_number: str
    kind: str
    maker: str
    model: str
    serial: str
    verdict: str
    findings: tuple[str, ...]
    limits: tuple[str, ...]
    limits_reason: str
    accessories: tuple[tuple[str, int], ...]
    replacement_amount: Decimal | None
    lent_on: date
    due_on: date
    lent_by: str
    terms: str
    terms_version: int
    signed: str
    signed_at: datetime
    guardian_signer: str
    photos: int
    drawn: Drawn | None = None  # as it stood at hand-out; None where nobody inspected it
    student_signature: bytes = b""
    guardian_signature: bytes = b""


def agreement_paper(agreement: Agreement) -> AgreementPaper:
    """Read what the paper says from the rows of the loan, as they stood at hand-out."""
    loan = agreement.loan
    instrument, student, hand_out = loan.instrument, loan.student, loan.hand_out
    facts = hand_out.findings.all().facts() if hand_out else ()
    district = District.objects.first()
    return AgreementPaper(
        district=district.name if district else "",
        school=instrument.school.name,
        student=student.name,
        grade=student.grade,
        guardian=student.guardian_name,
        asset_number=instrument.asset_number,
        kind=instrument.kind.name,
        maker=instrument.maker,
        model=instrument.model,
        serial=instrument.serial,
        verdict=Verdict(hand_out.verdict).label if hand_out and hand_out.verdict else Verdict.NOT_INSPECTED.label,
        findings=facts_in_words(instrument, facts),
        limits=tuple(loan.limits),
        limits_reason=loan.limits_reason,
        accessories=tuple((row["name"], row["count"]) for row in loan.accessories),
        replacement_amount=loan.replacement_amount,
        lent_on=loan.lent_on,
        due_on=loan.due_on,
        lent_by=loan.actor.name,
        terms=agreement.terms.text,
        terms_version=agreement.terms.version,
        signed=agreement.signed,
        signed_at=timezone.localtime(agreement.signed_at),
        guardian_signer=agreement.guardian_signer,
        photos=hand_out.photos.count() if hand_out else 0,
        drawn=drawn(instrument, findings=facts) if hand_out else None,
        student_signature=_content(agreement.student_signature),
        guardian_signature=_content(agreement.guardian_signature),
    )


def findings_in_words(instrument: Instrument, inspection: Inspection | None) -> tuple[str, ...]:
    """Each finding of the inspection as a line: "Third valve slide: seized, moderate"."""
    return facts_in_words(instrument, inspection.findings.all().facts() if inspection else ())


def facts_in_words(instrument: Instrument, facts: Sequence[FindingFact]) -> tuple[str, ...]:
    lines = []
    for fact in facts:
        where, fault = finding_in_words(instrument, part=fact.part, place=fact.place, fault=fact.fault)
        lines.append(f"{where}: {fault}, {fact.severity.value}")
    return tuple(lines)


def _content(field: Any) -> bytes:
    if not field:
        return b""
    with field.open("rb") as stored:
        content: bytes = stored.read()
    return content


def history_of(student: Student) -> Sequence[Loan]:
    """Every loan of the student, newest first."""
    return list(student.loans.for_table().order_by("-lent_at", "-pk"))
