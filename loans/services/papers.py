"""Deleting a signed paper: its files go, its hashes stay."""

from __future__ import annotations

from datetime import datetime
from functools import partial

from django.core.files.storage import default_storage
from django.db import transaction
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.models import User
from inventory.models import Instrument
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument
from loans.exceptions import AgreementRefusedError
from loans.models import Agreement

FILES = ("student_signature", "guardian_signature", "scan", "pdf")


@service
def delete_papers(*, agreement: Agreement, actor: User | None, at: datetime, even_if_out: bool = False) -> int:
    """Delete the PDF, scan and signatures of a closed loan, and return how many files.

    The caller decides whether they may go (``loans.selectors.papers.expired_papers``). Refused while the instrument is out,
    unless ``even_if_out``. The files are deleted on commit; calling it again finds none.
    """
    instrument = lock_instrument(agreement.loan.instrument_id)
    fresh = lock_row(agreement, "loan")
    if fresh.loan.is_open and not even_if_out:
        raise AgreementRefusedError(_("The instrument is still out, so its paper must be kept."))
    names = [name for column in FILES if (name := getattr(fresh, column).name)]
    names += _take_addenda(fresh, instrument)
    if not names:
        return 0
    Agreement.objects.filter(pk=fresh.pk).update(**dict.fromkeys(FILES, ""), guardian_signer="", names={})
    log_event(
        instrument=instrument,
        school=fresh.loan.school_id,
        act="papers_deleted",
        subject=fresh,
        after={"files": len(names), "pdf_sha256": fresh.pdf_sha256, "scan_sha256": fresh.scan_sha256},
    )
    transaction.on_commit(partial(_delete, names))
    return len(names)


def _take_addenda(agreement: Agreement, instrument: Instrument) -> list[str]:
    """Let go of the addenda's files and return their names."""
    names = []
    for addendum in agreement.addenda.exclude(pdf=""):
        names.append(str(addendum.pdf.name))
        addendum.pdf = ""
        addendum.save(update_fields=["pdf"])
        school = agreement.loan.school_id
        log_event(instrument=instrument, school=school, act="addendum_deleted", subject=addendum, after={})
    return names


def _delete(names: list[str]) -> None:
    for name in names:
        default_storage.delete(name)
