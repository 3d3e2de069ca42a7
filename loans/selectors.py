"""Reads of loans: who has what, what is late, what goes on the paper, what changed while it was out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db.models import Count, Model, Q, QuerySet
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult, get_date_max

from core.events import plain
from core.free_text import Typed, typed_texts
from inventory.catalog.load import catalog
from inventory.catalog.schema import Kind, Severity
from inventory.models import (
    VERDICT_LABELS,
    District,
    Finding,
    Inspection,
    Instrument,
    School,
    Verdict,
    schools_of,
)
from inventory.pages.drawing import drawn
from inventory.rules.facts import FindingFact
from inventory.selectors.setup import district_name
from inventory.selectors.standing import slides_played, standing_for
from loans.models import Agreement, AgreementTerms, Loan, LoanQuerySet, Student
from loans.rules.compare import Compared, compare
from loans.rules.due import keep_until
from loans.rules.redaction import Redaction, redaction_for

PAPER_TASK = "loans.tasks.make_paper"
UNDONE = (TaskResultStatus.READY, TaskResultStatus.RUNNING)
PAPER_IS_LATE = timedelta(hours=1)


def schools_with_names(user: Any) -> frozenset[int]:
    """Return the schools whose students' names the user may see; elsewhere a loan is shown without the name."""
    return frozenset(schools_of(user, "loans.view_student_name").values_list("pk", flat=True))


def open_loan_of(instrument: Instrument) -> Loan | None:
    """Return the open loan of an instrument, or None."""
    return open_loans().filter(instrument=instrument).first()


def open_loans() -> LoanQuerySet:
    """Return what is out, with what taking it back needs."""
    return Loan.objects.open().for_table().select_related("instrument__school", "hand_out")


def students_of(school: School) -> QuerySet[Student]:
    """Return the students who can borrow, annotated with ``out``, how many instruments each has now."""
    return (
        Student.objects.current()
        .filter(school=school)
        .annotate(out=Count("loans", filter=Q(loans__returned_at=None)))
        .order_by("name", "pk")
    )


def loans_of(student: Student) -> QuerySet[Loan]:
    """Return every loan of the student, newest first."""
    return student.loans.for_table().order_by("-lent_at", "-pk")


@cache
def default_terms() -> str:
    """Return the terms to begin with, to be replaced by each district's own. Not legal advice."""
    return (Path(settings.BASE_DIR) / "fixtures" / "terms.txt").read_text(encoding="utf-8").strip()


def current_terms() -> AgreementTerms:
    """Return the newest version; if there is none, the default terms as version 1, unsaved: a page can name it."""
    return AgreementTerms.objects.first() or AgreementTerms(text=default_terms(), version=1)


def terms_of_version(version: int) -> AgreementTerms | None:
    """Return one version, or the unsaved default terms, or None."""
    newest = current_terms()
    if newest.version == version:
        return newest
    return AgreementTerms.objects.filter(version=version).first()


def handed_out_with(loan: Loan) -> tuple[FindingFact, ...]:
    """Return the findings it went out with: the hand-out inspection's, without what was repaired before it went."""
    return Finding.objects.filter(inspection=loan.hand_out_id).open_at(loan.lent_at).facts() if loan.hand_out_id else ()


def compare_inspections(*, loan: Loan, taken_back: Inspection | None) -> tuple[Compared, ...]:
    """Compare how it went out with the inspection at return; without one, nothing has changed."""
    before = handed_out_with(loan)
    return compare(
        before=before,
        after=Finding.objects.filter(inspection=taken_back).facts() if taken_back else before,
        faults=catalog().faults,
        walk=[part.code for part in loan.instrument.kind.parts],
        looked_at=set(taken_back.looks.values_list("part", flat=True)) if taken_back else None,
    )


def finding_in_words(kind: Kind, *, part: str, place: str, fault: str) -> tuple[str, str]:
    """Return where and what: ("Third valve slide", "seized"). Codes no longer in the catalog are shown as they are."""
    return kind.where(part, place), catalog().fault_name(fault)


def findings_in_words(kind: Kind, facts: Sequence[FindingFact]) -> tuple[str, ...]:
    """Return each finding as a line: "Third valve slide: seized, moderate"."""
    lines = []
    for fact in facts:
        where, fault = finding_in_words(kind, part=fact.part, place=fact.place, fault=fact.fault)
        lines.append(f"{where}: {fault}, {fact.severity.value}")
    return tuple(lines)


def agreed_facts(loan: Loan) -> dict[str, Any]:
    """Return what is agreed about instrument and loan, as JSON keeps it from signing on.

    No person's name is in it, and of what staff typed only what names the instrument. ``findings`` are the lines that
    the family reads, ``found`` the same for the drawings, with the code of kind and options.
    """
    instrument, hand_out = loan.instrument, loan.hand_out
    found = handed_out_with(loan)
    return plain(
        {
            "district": district_name(),
            "school": loan.school.name,
            "asset_number": instrument.asset_number,
            "kind_code": instrument.kind_code,
            "kind": instrument.kind.name,
            "options": instrument.options,
            "maker": instrument.maker,
            "model": instrument.model,
            "serial": instrument.serial,
            "replacement_amount": loan.replacement_amount,
            "lent_on": loan.lent_on,
            "due_on": loan.due_on,
            "accessories": [{"name": row["name"], "count": row["count"]} for row in loan.accessories],
            "verdict": VERDICT_LABELS[Verdict((hand_out and hand_out.verdict) or Verdict.NOT_INSPECTED)],
            "is_inspected": hand_out is not None,
            "findings": findings_in_words(instrument.kind, found),
            "found": [asdict(fact) for fact in found],
            "slide_mm": slides_played({instrument.pk: found}).get(instrument.pk),
            "photos": hand_out.photos.count() if hand_out else 0,
        }
    )


def agreed_names(loan: Loan) -> dict[str, str]:
    """Return the people the paper names besides the signer; they are erased with the student."""
    student = loan.student
    return {
        "student": student.name,
        "grade": student.grade,
        "guardian": student.guardian_name,
        "lent_by": loan.actor.name,
    }


def paper_facts(agreement: Agreement) -> dict[str, Any]:
    """Return what the paper says, as it was signed; whatever was not kept then is read from the rows.

    ``drawn`` is None if nobody inspected the instrument at hand-out.
    """
    loan, kept = agreement.loan, agreement.facts
    facts: dict[str, Any] = kept if "found" in kept else agreed_facts(loan) | kept
    amount = facts["replacement_amount"]
    return facts | {
        "names": agreement.names or agreed_names(loan),
        "replacement_amount": None if amount is None else Decimal(amount),
        "lent_on": date.fromisoformat(facts["lent_on"]),
        "due_on": date.fromisoformat(facts["due_on"]),
        "drawn": _drawn(facts) if facts["is_inspected"] else None,
    }


def _drawn(facts: dict[str, Any]) -> dict[str, Any]:
    found = [FindingFact(**one | {"severity": Severity(one["severity"])}) for one in facts["found"]]
    return drawn(standing_for(facts["kind_code"], facts["options"], findings=found, slide_mm=facts["slide_mm"]))


def due_papers() -> QuerySet[Agreement]:
    """Return the agreements whose PDF is still to be made: signed, not erased, and what was signed is still there."""
    due = Agreement.objects.filter(pdf_sha256="", loan__student__erased_at=None)
    return due.exclude(student_signature="", scan="").for_paper().order_by("pk")


@dataclass(frozen=True, slots=True)
class WaitingPaper:
    """A paper that the worker is going to make."""

    failures: int
    next_at: datetime | None  # None: as soon as the worker comes to it
    queued_at: datetime


def waiting_papers(agreement: Agreement | None = None) -> dict[int, WaitingPaper]:
    """Return the papers that wait in the queue, or are being made, by the agreement's key."""
    waiting = DBTaskResult.objects.filter(task_path=PAPER_TASK, status__in=UNDONE)
    if agreement is not None:
        waiting = waiting.filter(args_kwargs__kwargs__agreement=agreement.pk)
    return {
        task.args_kwargs["kwargs"]["agreement"]: WaitingPaper(
            failures=task.args_kwargs["kwargs"].get("failures", 0),
            next_at=None if task.run_after == get_date_max() else task.run_after,
            queued_at=task.enqueued_at,
        )
        for task in reversed(waiting)  # of several for one paper, the one that comes first
    }


def paper_differences(*, now: datetime) -> tuple[list[str], list[str]]:
    """Return a sentence for each paper that waits as it should, and one for each that is late, failed or forgotten."""
    waits, wrong = [], []
    known = waiting_papers()
    for paper in due_papers():
        task, loan = known.get(paper.pk), f"loan {paper.loan_id}"
        if task is None:
            wrong.append(f"{loan}: its paper is due, and nothing is queued to make it; the worker queues it")
        elif task.failures:
            wrong.append(f"{loan}: its paper could not be made, {task.failures} times; it will be tried again")
        elif abs(now - task.queued_at) > PAPER_IS_LATE:
            wrong.append(
                f"{loan}: its paper has been due since {task.queued_at:%Y-%m-%d %H:%M}; is the worker running?"
            )
        else:
            waits.append(f"{loan}: its paper is being made")
    return waits, wrong


def years_papers_are_kept() -> int | None:
    """Return how many years the district keeps signed papers after the return; None if it has not decided."""
    return District.objects.values_list("keep_papers_years", flat=True).first()


def expired_papers(*, today: date) -> Iterator[tuple[Agreement, date]]:
    """Yield papers whose files may be deleted, with the day since when, oldest first; none if no period is set."""
    years = years_papers_are_kept()
    if years is not None:
        for agreement, until in _with_last_day(_papers_of_closed_loans(), years):
            if until <= today:
                yield agreement, until


def papers_to_keep(student: Student, *, at: datetime) -> list[tuple[Agreement, date]]:
    """Return the student's papers that must still be kept, each with its last day."""
    years = years_papers_are_kept()
    if years is None:
        return []
    mine = _with_last_day(_papers_of_closed_loans().filter(loan__student=student), years)
    return [(agreement, until) for agreement, until in mine if until > timezone.localdate(at)]


def _papers_of_closed_loans() -> QuerySet[Agreement]:
    kept = ~Q(pdf="") | ~Q(scan="") | ~Q(student_signature="") | ~Q(guardian_signature="")
    ended = Agreement.objects.filter(kept, loan__returned_at__isnull=False)
    return ended.select_related("loan__instrument").order_by("loan__returned_at", "pk")


def _with_last_day(agreements: Iterable[Agreement], years: int) -> Iterator[tuple[Agreement, date]]:
    for agreement in agreements:
        if agreement.loan.returned_at is not None:
            yield agreement, keep_until(returned_on=timezone.localdate(agreement.loan.returned_at), years=years)


@dataclass(frozen=True, slots=True)
class NamedIn:
    """Texts that certainly name a student or guardian, and those where a word may be the name."""

    sure: tuple[Typed, ...]
    unsure: tuple[Typed, ...]  # only about instruments the student had, and in what is short


def redaction_of(student: Student, *, nicknames: Sequence[str] = ()) -> Redaction:
    """Return what to look for in texts about this student, including guardian and signers."""
    signers = Agreement.objects.filter(loan__student=student).values_list("guardian_signer", flat=True)
    return redaction_for(
        names=[student.name, student.guardian_name, *signers], contacts=[student.guardian_contact], nicknames=nicknames
    )


def named_in(student: Student, redaction: Redaction) -> NamedIn:
    """Search all free text of the school, and of instruments the student had, wherever they are now."""
    had = frozenset(student.loans.values_list("instrument_id", flat=True))
    sure, unsure = [], []
    for typed in typed_texts(tenant=student.school_id, threads=had):
        if redaction.is_named_in(typed.text):
            sure.append(typed)
        if (typed.is_short or typed.thread in had) and redaction.may_be_named_in(typed.text):
            unsure.append(typed)
    return NamedIn(sure=tuple(sure), unsure=tuple(unsure))


def places_to_redact(student: Student, *, nicknames: Sequence[str], checked: Mapping[str, bool]) -> dict[str, Any]:
    """Return what erasing would remove, and texts where a word may be the student's name.

    ``checked``: the boxes that were on the page before; new ones start checked.
    """
    found = named_in(student, redaction_of(student, nicknames=nicknames))
    numbers = dict(
        Instrument.objects.filter(pk__in={typed.thread for typed in found.unsure}).values_list("pk", "asset_number")
    )
    unsure = {typed.same: typed for typed in reversed(found.unsure)}  # each text once, its row before its revisions
    places = (
        {
            "key": typed.key,
            "where": ", ".join(
                filter(None, (numbers.get(typed.thread or 0), str(_model_of(typed)._meta.verbose_name)))
            ),
            "text": typed.text,
            "is_checked": checked.get(typed.key, True),
        }
        for typed in reversed(unsure.values())
    )
    return {"sure_count": len({typed.same for typed in found.sure}), "unsure": tuple(places)}


def _model_of(typed: Typed) -> type[Model]:
    """Return the model of the row that the text is, or was, in."""
    return apps.get_model(typed.home.partition(":")[0])
