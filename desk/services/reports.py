"""A reported problem taken up: confirmed, and then a job, or word to the family that has the instrument."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.day_bounds import PROMISED
from core.models import User
from inventory.catalog.load.language import stored_language
from inventory.exceptions import RefusedError
from inventory.models import Instrument, ProblemReport
from inventory.services.care import confirm_report
from inventory.services.state import lock_instrument
from loans.models import Notice
from loans.selectors.lending import open_loan_of
from loans.services.notices import tell_of_report
from repairs.models import Bench, Job
from repairs.services.jobs import open_job


@service(once="nonce")
def report_to_job(*, report: ProblemReport, bench: Bench, actor: User, at: datetime, nonce: UUID | None = None) -> Job:
    """Confirm a report about an instrument that is here, and take it to the bench."""
    confirm_report(report=report, actor=actor, at=at)
    with stored_language():
        because = gettext("Reported on %(day)s") % {"day": timezone.localdate(report.said_at).isoformat()}
    return open_job(instrument=report.instrument, bench=bench, because=because, actor=actor, at=at)


@service(once="nonce")
def report_to_family(
    *,
    report: ProblemReport,
    actor: User,
    at: datetime,
    bring_on: date | None = None,
    spare: Instrument | None = None,
    nonce: UUID | None = None,
) -> Notice | None:
    """Confirm a report about an instrument that is lent, and ask its family to bring it, once.

    ``spare`` is what the student may use until then. RefusedError where it came back meanwhile.
    """
    PROMISED.check(bring_on, today=timezone.localdate(at))
    lock_instrument(report.instrument)
    loan = open_loan_of(report.instrument)
    if loan is None:
        raise RefusedError(gettext("It has come back since, so there is nobody to notify. Open the job instead."))
    confirm_report(report=report, actor=actor, at=at)
    facts = {"bring_on": bring_on.isoformat()} if bring_on else {}
    if spare is not None:
        facts |= {"spare": spare.asset_number, "spare_kind": spare.kind_code}
    return tell_of_report(loan=loan, report=report, facts=facts, actor=actor, at=at)
