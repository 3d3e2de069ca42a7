"""What was decided about an instrument, and who approved it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext

from core.acts import service
from core.events import already
from core.models import User
from core.money import dollars
from inventory.access import has_perm_at_school, is_barred
from inventory.catalog.load.language import stored_language
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, retire
from repairs.models import ANSWER_LABELS, GIVES_UP, Bench, Job, ShopOrder, WorthDecision
from repairs.rules.worth import Answer, Worth
from repairs.selectors.shops import approval_limit
from repairs.services.approving import check_may_approve
from repairs.services.donors import end_work, mark_parts_instrument
from repairs.services.jobs import open_job


@service(once="nonce")
def decide_worth(
    *,
    instrument: Instrument,
    answer: str,
    worth: Worth,
    is_student_waiting: bool,
    nonce: UUID,
    actor: User,
    at: datetime,
    because: str = "",
    bench: Bench | None = None,
) -> WorthDecision:
    """Keep the answer with the math of the day. An answer against the math needs a reason.

    Giving an instrument up, and spending above the limit, waits for somebody who may approve; who may, approves by
    deciding where the district does not have another person approve. What holds moves something at once: the job opens
    at ``bench``, or goes on; it is kept for parts, or retired. Refuses a repair of what is kept for parts, and
    to keep it once more.
    """
    row = lock_instrument(instrument)
    if answer not in set(Answer):
        raise RefusedError(gettext("Choose what to do."))
    if row.is_parts_instrument and answer not in GIVES_UP:
        words = gettext("%(number)s is kept for parts. Put it back in service first.")
        raise RefusedError(words % {"number": row.asset_number})
    if row.is_parts_instrument and answer == Answer.KEEP_FOR_PARTS:
        words = gettext("%(number)s is already kept for parts. Nothing was changed.")
        raise RefusedError(words % {"number": row.asset_number})
    if answer != worth.answer.value and not because.strip():
        advised = str(ANSWER_LABELS[worth.answer]).lower()
        raise RefusedError(gettext("The math says: %(advised)s. Say why you decide otherwise.") % {"advised": advised})
    with stored_language():
        reason = _approval_because(answer, worth)
    may_approve = has_perm_at_school(actor, "repairs.approve_cost", row.school_id)
    approves = bool(reason) and may_approve and not is_barred(actor, asker_id=actor.pk)
    settled: dict[str, Any] = {"is_approved": True, "settled_at": at, "settled_by": actor} if approves else {}
    decision = WorthDecision.objects.create(
        instrument=row, nonce=nonce, answer=answer, because=because.strip()[:400], is_student_waiting=is_student_waiting,
        is_approval_needed=bool(reason), approval_because=reason, decided_at=at, decided_by=actor,
        **_math_of(worth), **settled,
    )  # fmt: skip
    _log(decision, "worth_decided", approval="waits" if reason and not approves else "given")
    if decision.holds:
        _act_on(decision, bench=bench, actor=actor, at=at)
    return decision


def _math_of(worth: Worth) -> dict[str, Any]:
    """The figures of the day as columns of a decision: later ones would no longer say why it was made."""
    return {
        "advised": worth.answer.value,
        "lines": [[line.label, None if line.amount is None else str(line.amount), line.words] for line in worth.lines],
        "rules": [[rule.code, rule.says_repair, rule.words] for rule in worth.rules],
        **{name: getattr(worth, name) for name in ("cost_p50_amount", "cost_p80_amount", "value_amount")},
    }


def _approval_because(answer: str, worth: Worth) -> str:
    if answer in GIVES_UP:
        return gettext("an instrument is given up")
    limit = approval_limit()
    if worth.cost_p80_amount > limit:
        return worth.approval_because or gettext("above %(limit)s") % {"limit": dollars(limit)}
    against = any(not rule.says_repair for rule in worth.rules)
    return worth.approval_because or (gettext("against a rule of thumb") if against else "")


def _act_on(decision: WorthDecision, *, actor: User, at: datetime, bench: Bench | None = None) -> None:
    """Do what was decided, as far as it needs nothing else: an approval opens no job, and an order says more."""
    instrument = lock_instrument(decision.instrument_id)
    retire(instrument=instrument, is_retired=False, actor=actor, at=at)
    if decision.answer == Answer.KEEP_FOR_PARTS and not instrument.is_parts_instrument:
        with stored_language():
            because = decision.because or gettext("The repair is not worth it.")
        mark_parts_instrument(instrument=instrument, because=because, actor=actor, at=at)
    elif decision.answer == Answer.RETIRE:
        elsewhere = gettext("It is %(where)s. To be retired, it must be in storage or on the bench.")
        with stored_language():
            ended = gettext("Retired.")
        end_work(instrument=instrument, because=ended, elsewhere=elsewhere, actor=actor, at=at)
        retire(instrument=instrument, is_retired=True, actor=actor, at=at)
    elif decision.answer == Answer.REPAIR_HERE:
        going_on = Job.objects.open().filter(instrument=instrument).update(decision=decision)
        if bench is not None and not going_on and instrument.whereabouts == Whereabouts.IN_STORE:
            open_job(instrument=instrument, bench=bench, because=decision.because, actor=actor, at=at)
    elif decision.answer == Answer.SEND_OUT:
        ShopOrder.objects.open().filter(instrument=instrument).update(decision=decision)


def _log(decision: WorthDecision, act: str, **more: str) -> None:
    after = {"answer": decision.answer, "advised": decision.advised, "p80": decision.cost_p80_amount}
    after |= {"value": decision.value_amount, **more}
    log_event(instrument=decision.instrument, act=act, subject=decision, after=after)


@service
def read_answer(*, decision: WorthDecision, actor: User, at: datetime) -> None:
    """Note that whoever asked has read the answer, so that it leaves their first page; twice changes nothing."""
    if decision.decided_by_id != actor.pk:
        raise RefusedError(gettext("%(who)s asked for it, and reads the answer.") % {"who": decision.decided_by})
    lock_instrument(decision.instrument_id)
    rows = WorthDecision.objects.filter(pk=decision.pk, settled_at__isnull=False, answer_read_at=None)
    if rows.update(answer_read_at=at):
        _log(decision, "worth_answer_read")


@service
def settle_decision(
    *, decision: WorthDecision, is_approved: bool, actor: User, at: datetime, note: str = ""
) -> WorthDecision:
    """Approve or refuse a decision that waits. Only who may approve costs; a refusal says why."""
    check_may_approve(actor=actor, asker_id=decision.decided_by_id, school_id=decision.instrument.school_id)
    if not is_approved and not note.strip():
        raise RefusedError(gettext("Say why not."))
    instrument = lock_instrument(decision.instrument_id)
    waiting = list(WorthDecision.objects.waiting().filter(pk=decision.pk).values_list("pk", flat=True))
    settled = WorthDecision.objects.filter(pk__in=waiting, settled_at=None).update(
        is_approved=is_approved, settled_at=at, settled_by=actor, settled_note=note.strip()[:200]
    )
    if not settled:
        words = gettext("It is no longer waiting: somebody has settled it, or a newer decision replaced it.")
        raise RefusedError(already(words, subject=decision, acts=["worth_approved", "worth_refused"]))
    fresh = WorthDecision.objects.get(pk=decision.pk)
    fresh.instrument = instrument
    _log(fresh, "worth_approved" if is_approved else "worth_refused")
    if is_approved:
        _act_on(fresh, actor=actor, at=at)
    return fresh
