"""Everything that is held on one student, for the copy that a guardian may ask for."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.timezone import localdate
from django.utils.translation import gettext as _

from core.days import full_day
from core.money import dollars
from inventory.catalog.load import catalog
from inventory.rules.playing import level_name
from loans.models import (
    Agreement,
    AssignmentLine,
    GradeRoll,
    LedgerEntry,
    LegalHold,
    Loan,
    Loss,
    Notice,
    PaperToSign,
    Seat,
    SigningLink,
    Student,
)
from loans.selectors.erasing import model_of, named_in, redaction_of, with_places
from loans.selectors.ledger import entries_of

Lines = list[tuple[str, str]]  # what it is, and what it says
Records = Sequence[Student]  # the student's own, then those merged into it
# What has its place in a section of its own, so that it is not among the notes again: model, lookup, columns.
SHOWN = (
    (Loan, "student", ("limits_reason",)),
    (Loss, "loan__student", ("circumstances", "police_agency", "police_number", "insurer", "claim_number")),
    (LedgerEntry, "student", ("note",)),
)


@dataclass(frozen=True, slots=True)
class Section:
    title: str
    lines: Lines


def held_on(student: Student) -> list[Section]:
    """Return what is held, by what it is about; what is empty is left out."""
    records = records_of(student)
    parts: tuple[tuple[str, Callable[[Records], Iterator[tuple[str, Any]]]], ...] = (
        (_("The student"), _student),
        (_("Guardians"), _guardians),
        (_("Ensembles and classes"), _seats),
        (_("Who gets which instrument"), _assigned),
        (_("Loans"), _loans),
        (_("Agreements to sign"), _to_sign),
        (_("Loss or theft"), _losses),
        (_("Notices to the family"), _notices),
        (_("Account"), _account),
        (_("Protected from erasure"), _holds),
        (_("Notes that name the student or a guardian"), _texts),
    )
    read = ((title, [(label, _text_of(value)) for label, value in lines(records)]) for title, lines in parts)
    sections = (Section(title, [(label, text) for label, text in lines if text]) for title, lines in read)
    return [section for section in sections if section.lines]


def records_of(student: Student) -> list[Student]:
    """Return the record and those merged into it, whose rows stay where they were."""
    merged = student.merged_from.filter(erased_at=None).order_by("pk")
    return [student, *(row for other in merged for row in records_of(other))]


def _text_of(value: Any) -> str:
    if value is None:
        return ""
    return full_day(value) if isinstance(value, date) else str(value)


def _student(records: Records) -> Iterator[tuple[str, Any]]:
    # What a merged record says too is said once.
    yield from dict.fromkeys(line for student in records for line in _record(student))


def _record(student: Student) -> Iterator[tuple[str, Any]]:
    yield _("Name"), student.name
    yield _("School"), student.school.name
    yield _("Student number"), student.number
    yield _("Roster identifier"), student.sourced_id
    yield _("Grade"), student.grade
    for roll in GradeRoll.objects.filter(school=student.school_id, lines__has_key=str(student.pk)):
        yield _("Grade before the school year %(year)s") % {"year": roll}, roll.lines[str(student.pk)][0]
    yield _("Plays at"), level_name(student.level)
    yield _("Waiting for"), student.waits_for
    yield _("Directory information"), _("The family opted out") if student.is_private else ""
    yield _("Left on"), student.left_on


def _guardians(records: Records) -> Iterator[tuple[str, Any]]:
    for one in (guardian for student in records for guardian in student.guardians.all()):
        yield _("Name"), one.name
        yield _("E-mail"), one.email
        yield _("Phone"), one.phone
        yield _("Contact"), one.contact
        yield _("Mailing address"), ", ".join(one.address.splitlines())
        yield _("Language"), one.get_language_display()
        yield _("Roster identifier"), one.sourced_id


def _seats(records: Records) -> Iterator[tuple[str, Any]]:
    for seat in Seat.objects.filter(student__in=records).select_related("ensemble", "period").order_by("since", "pk"):
        place = seat.ensemble or seat.period
        kind = catalog().kind(seat.kind_code).name if seat.kind_code else ""
        days = " – ".join(full_day(day) for day in (seat.since, seat.until) if day)
        yield str(place), ", ".join(filter(None, (kind, days)))


def _assigned(records: Records) -> Iterator[tuple[str, Any]]:
    rows = AssignmentLine.objects.filter(student__in=records).select_related("assignment", "instrument")
    for line in rows.order_by("assignment__made_at", "pk"):
        number = line.instrument.asset_number if line.instrument else ""
        yield full_day(localdate(line.assignment.made_at)), f"{line.kind_name} {number}".strip()


def _loans(records: Records) -> Iterator[tuple[str, Any]]:
    rows = Loan.objects.filter(student__in=records).select_related("instrument", "agreement__terms", "school")
    for loan in rows.order_by("lent_at", "pk"):
        yield f"{loan.instrument.asset_number} {loan.instrument.kind.name}", _loan(loan)
        yield _("Lent despite its limits because"), loan.limits_reason
        agreement: Agreement | None = getattr(loan, "agreement", None)
        if agreement is not None:
            yield _("Agreement"), _agreement(agreement)


def _loan(loan: Loan) -> str:
    text = _("from %(lent)s, due %(due)s") % {"lent": full_day(loan.lent_on), "due": full_day(loan.due_on)}
    if loan.undone_at:
        return _("%(loan)s; undone as a mistake") % {"loan": text}
    if loan.is_lost:
        return _("%(loan)s; given up as lost") % {"loan": text}
    if loan.returned_at:
        return _("%(loan)s; back %(day)s") % {"loan": text, "day": full_day(localdate(loan.returned_at))}
    return _("%(loan)s; out now") % {"loan": text}


def _agreement(agreement: Agreement) -> str:
    words = [agreement.get_signed_display(), full_day(localdate(agreement.signed_at)), agreement.guardian_signer]
    words += [_("PDF kept")] if agreement.pdf else []
    words += [_("scan kept")] if agreement.scan else []
    return ", ".join(filter(None, words))


def _to_sign(records: Records) -> Iterator[tuple[str, Any]]:
    papers = PaperToSign.objects.filter(student__in=records).select_related("instrument")
    for paper in papers.order_by("printed_at", "pk"):
        number = paper.instrument.asset_number if paper.instrument else ""
        words = [number, paper.shown_code, _("scan kept") if paper.scan else ""]
        yield _("Printed on %(day)s") % {"day": full_day(localdate(paper.printed_at))}, ", ".join(filter(None, words))
    links = SigningLink.objects.filter(loan__student__in=records).select_related("guardian", "loan__instrument")
    for link in links.order_by("made_at", "pk"):
        words = [link.loan.instrument.asset_number, link.guardian.name, link.get_way_display()]
        words += [full_day(localdate(link.made_at)), link.get_ended_display()]
        yield _("Link to sign"), ", ".join(filter(None, words))


def _losses(records: Records) -> Iterator[tuple[str, Any]]:
    rows = Loss.objects.filter(loan__student__in=records).select_related("loan__instrument")
    for loss in rows.order_by("noticed_on", "pk"):
        what = f"{loss.loan.instrument.asset_number} {loss.loan.instrument.kind.name}"
        yield loss.get_sort_display(), ", ".join(filter(None, (what, loss.get_outcome_display())))
        yield _("Noticed on"), loss.noticed_on
        yield _("Where and when it was last seen"), loss.circumstances
        yield _("Police agency"), loss.police_agency
        yield _("Report number"), loss.police_number
        yield _("Insurer"), loss.insurer
        yield _("Claim number"), loss.claim_number


def _notices(records: Records) -> Iterator[tuple[str, Any]]:
    rows = Notice.objects.filter(loan__student__in=records).select_related("loan__instrument").order_by("made_at", "pk")
    for notice in rows:
        yield (
            full_day(localdate(notice.made_at)),
            f"{notice.get_sort_display()}, {notice.get_way_display()}, {notice.loan.instrument.asset_number}",
        )


def _account(records: Records) -> Iterator[tuple[str, Any]]:
    for entry in (entry for student in records for entry in entries_of(student)):
        amount = f"{entry.get_sort_display()}, {dollars(entry.amount)}"
        yield full_day(entry.on), f"{amount}. {entry.note}" if entry.note else amount


def _holds(records: Records) -> Iterator[tuple[str, Any]]:
    for hold in LegalHold.objects.filter(student__in=records, lifted_at=None):
        yield _("Legal hold"), _("until %(day)s") % {"day": full_day(hold.ends_on)}


def _texts(records: Records) -> Iterator[tuple[str, Any]]:
    """Each text once, as it is in its row or was in an earlier version; not why a record is protected."""
    shown = {
        f"{model._meta.label_lower}:{pk}:{column}"
        for model, lookup, columns in SHOWN
        for pk in model._default_manager.filter(**{f"{lookup}__in": records}).values_list("pk", flat=True)
        for column in columns
    }
    found = {typed.key: typed for one in records for typed in named_in(one, redaction_of(one)).sure}
    for where, typed in reversed(with_places(tuple(found.values()))):
        if typed.key not in shown and model_of(typed) is not LegalHold:
            yield where, typed.text
