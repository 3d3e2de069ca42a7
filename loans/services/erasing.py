"""Erasing a student from everything that is kept."""

from __future__ import annotations

import logging
from collections.abc import Collection, Sequence
from datetime import datetime
from functools import partial
from typing import Any

from django.db import transaction
from django.utils.timezone import localdate
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.days import full_day
from core.erasures import note_erasure
from core.events import record_event
from core.free_text import Typed, changed, rewrite
from core.models import User
from core.revisions import ERASED, log_redacted, versions_of
from core.services.long_work import delete_work_files
from inventory.services.event_log import log_event
from inventory.services.state import lock_instruments, refresh_state
from loans.exceptions import StudentRefusedError
from loans.models import SALT, Agreement, GradeRoll, Guardian, LegalHold, Loan, Student, facts_sha256
from loans.rules.redaction import REDACTED, Redaction
from loans.selectors.erasing import named_in, redaction_of, texts_of
from loans.selectors.papers import papers_to_keep
from loans.services.papers import delete_papers
from loans.services.to_sign import void_papers

logger = logging.getLogger(__name__)


@service
def erase_student(
    *,
    student: Student,
    actor: User | None,
    at: datetime,
    meant: Collection[str] = (),
    nicknames: Sequence[str] = (),
    whole: Collection[str] = (),
    deletes_papers_early: bool = False,
    even_if_out: bool = False,
) -> None:
    """Erase the student from the row, the guardians, all texts that name one of them, and from the signed papers.

    Full names and contacts are removed from all texts of the school and of instruments the student had. ``meant`` are
    keys of ``core.free_text.Typed`` where a single word of the name means this student; ``nicknames`` are more such
    words; ``whole`` are keys of texts to erase altogether, where a nickname is no longer known. Papers within the district's retention period stay until it ends, unless ``deletes_papers_early``. Loans keep
    their dates, inspections and the papers' hashes. Refused while a loan is open, unless ``even_if_out``: in a restored
    backup, what was taken back later is out again. Erasing again changes nothing.
    """
    redaction = redaction_of(student, nicknames=nicknames)
    merged = list(student.merged_from.filter(erased_at=None))  # other records of the same student go with it
    named = {typed.thread for typed, _ in _chosen(student, redaction, meant, whole) if typed.thread is not None}
    for other in merged:
        found = _chosen(other, redaction_of(other, nicknames=nicknames), meant, whole)
        named |= {typed.thread for typed, _ in found if typed.thread is not None}
    of_loans = Loan.objects.filter(student__in=[student, *merged]).values_list("instrument_id", flat=True)
    lock_instruments(*named, *of_loans)
    fresh = lock_row(student)  # lending to the student waits for this row too
    if not even_if_out and Loan.objects.open().filter(student=fresh).exists():
        raise StudentRefusedError(_("Take the instrument back first: while it is out, someone must be reachable."))
    if fresh.erased_at is not None:
        return
    if not even_if_out:
        _refuse_while_held(fresh, at=at)
    chosen = _chosen(fresh, redaction, meant, whole)
    by_nickname = _known_by_nickname(chosen, redaction, redaction_of(fresh)) if nicknames else []
    texts = _redact_texts(chosen, redaction, whole=whole, actor=actor, at=at)
    Student.objects.filter(pk=fresh.pk).update(
        name="", sort_name="", grade="", number="", sourced_id="", wants_kind="", is_private=False, left_on=None,
        off_roster_on=None, erased_at=at,
    )  # fmt: skip
    Guardian.places.filter(student=fresh).update(
        name="", email="", phone="", contact="", address="", language=Guardian.Language.ENGLISH, sourced_id=""
    )
    _forget_grades(fresh)
    papers = _delete_papers(fresh, is_early=deletes_papers_early, even_if_out=even_if_out, actor=actor, at=at)
    void_papers(student=fresh, at=at)
    transaction.on_commit(partial(delete_work_files, at=at))
    Loan.objects.filter(student=fresh).update(limits_reason="")
    after = {"papers": papers, **texts}
    record_event(act="student_erased", subject=fresh, tenant=fresh.school_id, after=after)
    for other in merged:
        erase_student(
            student=other, actor=actor, at=at, meant=meant, nicknames=nicknames, whole=whole,
            deletes_papers_early=deletes_papers_early, even_if_out=even_if_out,
        )  # fmt: skip
    transaction.on_commit(
        partial(
            _note, row=erasure_row(fresh.pk), at=at, texts=sorted(meant), nicknames=len(nicknames), whole=by_nickname,
            papers=deletes_papers_early,
        )
    )  # fmt: skip


def _forget_grades(student: Student) -> None:
    key = str(student.pk)
    for roll in GradeRoll.objects.filter(school=student.school_id, lines__has_key=key):
        del roll.lines[key]
        roll.save(update_fields=["lines"])


def _refuse_while_held(student: Student, *, at: datetime) -> None:
    hold = LegalHold.objects.in_force(today=localdate(at)).filter(student=student).order_by("-ends_on").first()
    if hold is not None:
        words = _("A legal hold keeps this record until %(day)s. The administrator can lift it.")
        raise StudentRefusedError(words % {"day": full_day(hold.ends_on)})


def erasure_row(pk: int) -> str:
    """Return how the list of erasures names a student."""
    return f"{Student._meta.label_lower}:{pk}"


def _note(*, row: str, at: datetime, **details: object) -> None:
    """The student is erased whatever becomes of the list; who is not on it is found when a backup is made."""
    try:
        note_erasure(row=row, at=at, **details)
    except OSError:
        logger.exception("%s was erased, and the list of erasures could not be written", row)


def _chosen(
    student: Student, redaction: Redaction, meant: Collection[str], whole: Collection[str]
) -> list[tuple[Typed, bool]]:
    """Return the texts to redact, each with whether someone checked it; all versions of a text share the answer."""
    found = named_in(student, redaction)
    checked = {typed.same for typed in found.unsure if typed.key in meant}
    chosen = [*found.sure, *(typed for typed in found.unsure if typed.same in checked), *texts_of(student, keys=whole)]
    return [(typed, typed.same in checked) for typed in versions_of(chosen)]


def _known_by_nickname(chosen: Collection[tuple[Typed, bool]], redaction: Redaction, by_name: Redaction) -> list[str]:
    """Return the keys of texts that the student's own names would not clear: nobody may keep the nickname itself."""
    return sorted(
        typed.key
        for typed, is_checked in chosen
        if is_checked
        and changed(typed.value, partial(by_name.redact, with_possible=True))
        != changed(typed.value, partial(redaction.redact, with_possible=True))
    )


def _redact_texts(
    chosen: Collection[tuple[Typed, bool]],
    redaction: Redaction,
    *,
    whole: Collection[str],
    actor: User | None,
    at: datetime,
) -> dict[str, Any]:
    """Rewrite the texts and refresh the instruments whose texts changed; return what the event says of it."""

    def cleared(typed: Typed, text: str, *, is_checked: bool) -> str:
        return REDACTED if typed.key in whole else redaction.redact(text, with_possible=is_checked)

    redacted = [typed for typed, is_checked in chosen if rewrite(typed, partial(cleared, typed, is_checked=is_checked))]
    _log_agreements([typed.pk for typed in redacted if typed.model is Agreement])
    threads = {typed.thread for typed in redacted if typed.thread is not None}
    for instrument in lock_instruments(*threads):
        refresh_state(instrument=instrument, actor=actor, at=at)
    erased = log_redacted(redacted)
    return {"texts": len({typed.same for typed in redacted})} | ({ERASED: erased} if erased else {})


def _log_agreements(keys: Collection[int]) -> None:
    """Say what the facts of these agreements are now. Their salt goes, so that the old hash tells nobody the name."""
    rows = Agreement.objects.filter(pk__in=keys).select_related("loan__instrument").order_by("pk")
    for agreement in rows:
        agreement.facts.pop(SALT, None)
        agreement.save(update_fields=["facts"])
        log_event(
            instrument=agreement.loan.instrument,
            school=agreement.loan.school_id,
            act="agreement_redacted",
            subject=agreement,
            after={"facts": facts_sha256(agreement.facts)},
        )


def _delete_papers(student: Student, *, is_early: bool, even_if_out: bool, actor: User | None, at: datetime) -> int:
    """Delete the papers that need not be kept and return how many. The names that were signed go from every row."""
    kept = set() if is_early else {paper.pk for paper, _ in papers_to_keep(student, at=at)}
    gone = 0
    for agreement in Agreement.objects.filter(loan__student=student).order_by("pk"):
        # A paper that was never rendered is worthless without the names, so its signatures go too.
        if agreement.pk not in kept or not (agreement.pdf_sha256 or agreement.scan_sha256):
            gone += bool(delete_papers(agreement=agreement, actor=actor, at=at, even_if_out=even_if_out))
    Agreement.objects.filter(loan__student=student).update(guardian_signer="", names={})
    return gone
