"""Another due date for what is out: one loan or many, such as keeping it over the summer."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import date, datetime

from django.core.files.base import ContentFile
from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.day_bounds import DUE
from core.models import User
from inventory.models import Instrument
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, lock_instruments
from loans.exceptions import AlreadyReturnedError, DueDateError
from loans.models import Addendum, Agreement, Loan


@service
def change_due_dates(*, loans: Iterable[Loan], due_on: date, actor: User, at: datetime) -> list[Loan]:
    """Set the due date of these open loans, all or none, and return those that changed.

    What was signed keeps the date that was agreed; the new one is an addendum to it, whose PDF is made afterward: see
    ``loans.tasks``. Raises DueDateError for a day that has passed
    or is not believed, AlreadyReturnedError if one of them came back meanwhile.
    """
    today = timezone.localdate(at)
    if due_on < today:
        raise DueDateError(_("That day is in the past."))
    DUE.check(due_on, today=today, refusal=DueDateError)
    wanted = sorted(loans, key=lambda loan: (loan.instrument_id, loan.pk))
    instruments = {row.pk: row for row in lock_instruments(*(loan.instrument_id for loan in wanted))}
    agreements = {one.loan_id: one for one in Agreement.objects.filter(loan__in=wanted)}
    changed = []
    for loan in wanted:
        fresh = lock_row(loan)
        instrument = instruments[fresh.instrument_id]
        if not fresh.is_open:
            words = _("%(number)s came back in the meantime. No date was changed; open the page again.")
            raise AlreadyReturnedError(words % {"number": instrument.asset_number})
        if fresh.due_on == due_on:
            continue
        before, fresh.due_on = fresh.due_on, due_on
        fresh.save(update_fields=["due_on"])
        log_event(
            instrument=instrument,
            school=fresh.school_id,
            act="due_changed",
            subject=fresh,
            before={"due_on": before},
            after={"due_on": due_on},
        )
        if fresh.pk in agreements:
            _write_addendum(agreements[fresh.pk], fresh, instrument, before=before, actor=actor, at=at)
        changed.append(fresh)
    return changed


def _write_addendum(
    agreement: Agreement, loan: Loan, instrument: Instrument, *, before: date, actor: User, at: datetime
) -> None:
    addendum = Addendum.objects.create(
        agreement=agreement, due_before=before, due_on=loan.due_on, written_at=at, actor=actor
    )
    log_event(
        instrument=instrument,
        school=loan.school_id,
        act="addendum_written",
        subject=addendum,
        after={"agreement": agreement.pk, "due_before": before, "due_on": loan.due_on},
    )


@service
def file_addendum_pdf(*, addendum: Addendum, data: bytes, actor: User | None, at: datetime) -> Addendum:
    """Store the rendered addendum and its SHA-256; a second one changes nothing."""
    loan = addendum.agreement.loan
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_row(addendum)
    if fresh.pdf_sha256:
        return fresh
    fresh.pdf_sha256 = hashlib.sha256(data).hexdigest()
    fresh.pdf.save(f"loan-{loan.pk}-addendum.pdf", ContentFile(data), save=False)
    fresh.save(update_fields=["pdf", "pdf_sha256"])
    after = {"sha256": fresh.pdf_sha256}
    log_event(instrument=instrument, school=loan.school_id, act="addendum_filed", subject=fresh, after=after)
    return fresh
