"""Reads of loans: who has what, what is late, what the paper says, what changed while it was away."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from core.free_text import Typed, typed_texts
from inventory.access import schools_of
from inventory.catalog.load import catalog
from inventory.catalog.schema import Severity
from inventory.models import District, Finding, Inspection, Instrument, School, Verdict
from inventory.rules.facts import FindingFact
from inventory.selectors.drawing import Drawn, drawn
from loans.models import Agreement, AgreementTerms, Loan, Student
from loans.rules.compare import CAUSE_WORDS, CHANGE_WORDS, Change, Compared, compare, in_a_sentence
from loans.rules.retention import keep_until
from loans.rules.striking import Striking, striking
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


def years_of_papers() -> int | None:
    """How many years the district keeps signed papers after the return; None where nobody has said."""
    return District.objects.values_list("keep_papers_years", flat=True).first()


def papers_past_their_time(*, today: date) -> Iterator[tuple[Agreement, date]]:
    """Papers whose files may go, with the day since when, the eldest first; none while no period is set."""
    years = years_of_papers()
    if years is not None:
        for agreement, until in _with_their_day(_papers_of_ended_loans(), years):
            if until <= today:
                yield agreement, until


def papers_within_their_time(student: Student, *, at: datetime) -> list[tuple[Agreement, date]]:
    """The student's papers that the district's period still holds, with the day until which."""
    years = years_of_papers()
    if years is None:
        return []
    mine = _with_their_day(_papers_of_ended_loans().filter(loan__student=student), years)
    return [(agreement, until) for agreement, until in mine if until > timezone.localdate(at)]


def _papers_of_ended_loans() -> QuerySet[Agreement]:
    kept = ~Q(pdf="") | ~Q(scan="") | ~Q(student_signature="") | ~Q(guardian_signature="")
    ended = Agreement.objects.filter(kept, loan__returned_at__isnull=False)
    return ended.select_related("loan__instrument").order_by("loan__returned_at", "pk")


def _with_their_day(agreements: Iterable[Agreement], years: int) -> Iterator[tuple[Agreement, date]]:
    for agreement in agreements:
        if agreement.loan.returned_at is not None:
            yield agreement, keep_until(returned_on=timezone.localdate(agreement.loan.returned_at), years=years)


@dataclass(frozen=True, slots=True)
class NamedIn:
    """Texts that name a student or the guardian: beyond doubt, and those where a word may be the name."""

    sure: tuple[Typed, ...]
    unsure: tuple[Typed, ...]  # only of instruments the student had


def striking_of(student: Student, *, nicknames: Sequence[str] = ()) -> Striking:
    """What to look for in texts about this student; the guardian belongs to it, as the student knows them."""
    signers = Agreement.objects.filter(loan__student=student).values_list("guardian_signer", flat=True)
    return striking(
        names=[student.name, student.guardian_name, *signers], contacts=[student.guardian_contact], nicknames=nicknames
    )


def named_in(student: Student, look: Striking) -> NamedIn:
    """Read every typed text of the school, and of the instruments the student had, wherever they are now."""
    had = frozenset(student.loans.values_list("instrument_id", flat=True))
    sure, unsure = [], []
    for typed in typed_texts(tenant=student.school_id, threads=had):
        if look.is_sure_of(typed.text):
            sure.append(typed)
        if typed.thread in had and look.may_be_meant(typed.text):
            unsure.append(typed)
    return NamedIn(sure=tuple(sure), unsure=tuple(unsure))


@dataclass(frozen=True, slots=True)
class Place:
    """A text where a word may be the student's name, to be ticked."""

    key: str
    where: str
    text: str
    is_ticked: bool


@dataclass(frozen=True, slots=True)
class PlacesToStrike:
    sure_count: int
    unsure: tuple[Place, ...]


def places_to_strike(student: Student, *, nicknames: Sequence[str], ticked: Mapping[str, bool]) -> PlacesToStrike:
    """What erasing would strike. ``ticked`` says which places were on the page before; new ones begin ticked."""
    found = named_in(student, striking_of(student, nicknames=nicknames))
    numbers = dict(
        Instrument.objects.filter(pk__in={typed.thread for typed in found.unsure}).values_list("pk", "asset_number")
    )
    places = (
        Place(
            key=typed.key,
            where=f"{numbers.get(typed.thread or 0, '')}, {typed.model._meta.verbose_name}",
            text=typed.text,
            is_ticked=ticked.get(typed.key, True),
        )
        for typed in found.unsure
    )
    return PlacesToStrike(sure_count=len(found.sure), unsure=tuple(places))
