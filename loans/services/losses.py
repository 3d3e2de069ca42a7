"""A lost or stolen instrument: reported, searched for, found or given up."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.day_bounds import RECORDED
from core.events import already
from core.models import User
from core.traces import as_left
from inventory.catalog.load import catalog
from inventory.models import Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, move_instrument
from loans.exceptions import LossRefusedError
from loans.models import Loan, Loss
from loans.rules.losses import Kind, steps_of

LOGGED = ("loan_id", "sort", "noticed_on", "search_until", "steps")
TYPED = ("circumstances", "police_agency", "police_number", "insurer", "claim_number")


def days_of_search() -> int:
    return int(catalog().settings["loss_search_days"])


@service(once="nonce")
def report_loss(
    *,
    loan: Loan,
    sort: str,
    noticed_on: date,
    actor: User,
    at: datetime,
    circumstances: str = "",
    nonce: UUID | None = None,
) -> Loss:
    """Open a case for what is out, and have it recorded as not found. Raises LossRefusedError and writes nothing."""
    instrument = lock_instrument(loan.instrument_id)
    fresh = lock_row(loan)
    if not fresh.is_open:
        raise LossRefusedError(_("This loan is over: the instrument is back."))
    if there := Loss.objects.open().filter(loan=fresh).first():
        words = _("A case is already open for it. Nothing was changed.")
        raise LossRefusedError(already(words, subject=there, acts=["loss_reported"]))
    RECORDED.check(noticed_on, today=timezone.localdate(at), refusal=LossRefusedError)
    if noticed_on < fresh.lent_on:
        raise LossRefusedError(_("That day is before it was lent."))
    if instrument.whereabouts != Whereabouts.NOT_FOUND:
        move_instrument(
            instrument=instrument, expected=Whereabouts.WITH_STUDENT, to=Whereabouts.NOT_FOUND, actor=actor, at=at,
            reference=f"loan:{fresh.pk}",
        )  # fmt: skip
    loss = Loss.objects.create(
        loan=fresh,
        sort=Kind(sort),
        noticed_on=noticed_on,
        search_until=noticed_on + timedelta(days=days_of_search()),
        circumstances=" ".join(circumstances.split())[:400],
        reported_at=at,
        actor=actor,
    )
    log_event(
        instrument=instrument, school=fresh.school_id, act="loss_reported", subject=loss, after=as_left(loss, *LOGGED)
    )
    return loss


@service
def change_loss(*, loss: Loss, steps: Mapping[str, date], typed: Mapping[str, str], actor: User, at: datetime) -> Loss:
    """Save which steps were done when, and what was typed (``TYPED``); nothing where all of it is as it was."""
    instrument = lock_instrument(loss.loan.instrument_id)
    fresh = lock_row(loss, "loan")
    today = timezone.localdate(at)
    if not steps.keys() <= {step.code for step in steps_of(Kind(fresh.sort))}:
        raise LossRefusedError(_("That is not a step of this case."))
    for day in steps.values():
        if not fresh.noticed_on <= day <= today:
            raise LossRefusedError(_("A step was done between the day it was noticed and today."))
    kept = {code: day.isoformat() for code, day in sorted(steps.items())}
    columns = {name: " ".join(typed[name].split()) for name in TYPED if name in typed}
    changed = [name for name, text in columns.items() if getattr(fresh, name) != text]
    if not changed and kept == fresh.steps:
        return fresh
    fresh.steps = kept
    for name in changed:
        setattr(fresh, name, columns[name])
    fresh.save(update_fields=["steps", *changed])
    log_event(
        instrument=instrument, school=fresh.loan.school_id, act="loss_changed", subject=fresh,
        after=as_left(fresh, "steps") | {"typed_in": changed},
    )  # fmt: skip
    return fresh


@service
def end_loss(*, loss: Loss, outcome: str, actor: User, at: datetime, found_on: date | None = None) -> Loss:
    """End a case. What was given up may still be found.

    The student has it: it is with the student again. It is here: it was taken back, or is in storage after it was given up.
    Given up: the loan ends, and the instrument stays not found.
    """
    instrument = lock_instrument(loss.loan.instrument_id)
    fresh = lock_row(loss, "loan")
    how, today = Loss.Outcome(outcome), timezone.localdate(at)
    if fresh.is_over or (fresh.outcome and how is not Loss.Outcome.FOUND):
        words = _("This case has ended already. Nothing was changed.")
        raise LossRefusedError(already(words, subject=fresh, acts=["loss_ended"]))
    if how is Loss.Outcome.GIVEN_UP:
        found_on = None
        _give_up(fresh.loan, actor=actor, at=at)
    else:
        found_on = found_on or today
        if not fresh.noticed_on <= found_on <= today:
            raise LossRefusedError(_("It was found between the day it was noticed and today."))
    if how is Loss.Outcome.WITH_STUDENT:
        if not fresh.loan.is_open:
            raise LossRefusedError(_("The loan is over, so the student cannot have it."))
        move_instrument(
            instrument=instrument, expected=Whereabouts.NOT_FOUND, to=Whereabouts.WITH_STUDENT, actor=actor, at=at,
            reference=f"loan:{fresh.loan_id}",
        )  # fmt: skip
    if how is Loss.Outcome.FOUND:
        _check_here(fresh, instrument.whereabouts)
    fresh.outcome, fresh.found_on, fresh.ended_at, fresh.ended_by = how, found_on, at, actor
    fresh.save(update_fields=["outcome", "found_on", "ended_at", "ended_by"])
    after = {"outcome": str(how), "found_on": found_on}
    log_event(instrument=instrument, school=fresh.loan.school_id, act="loss_ended", subject=fresh, after=after)
    return fresh


def reopen_loss(*, loan: Loan, since: datetime, actor: User, at: datetime) -> None:
    """Open again the case that ended since then as found here. Called within the act that undoes the return."""
    for found in Loss.objects.filter(loan=loan, outcome=Loss.Outcome.FOUND, ended_at__gte=since):
        loss = lock_row(found, "loan__instrument")
        loss.outcome, loss.found_on, loss.ended_at, loss.ended_by = "", None, None, None
        loss.save(update_fields=["outcome", "found_on", "ended_at", "ended_by"])
        log_event(instrument=loss.loan.instrument, school=loan.school_id, act="loss_reopened", subject=loss)


def _check_here(loss: Loss, whereabouts: str) -> None:
    if loss.loan.is_open:
        raise LossRefusedError(_("Take it back first; then say here that it was found."))
    if whereabouts in (Whereabouts.NOT_FOUND, Whereabouts.GONE):
        raise LossRefusedError(_("Record on its page that it is in storage again; then say here that it was found."))


def _give_up(loan: Loan, *, actor: User, at: datetime) -> None:
    """End a loan whose instrument does not come back."""
    ended = Loan.objects.open().filter(pk=loan.pk).update(returned_at=at, returned_to=actor, is_lost=True)
    if not ended:
        raise LossRefusedError(_("The loan is over: the instrument is back."))
    log_event(
        instrument=lock_instrument(loan.instrument_id), school=loan.school_id, act="loan_ended_lost", subject=loan
    )
