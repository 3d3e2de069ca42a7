"""An instrument leaves the fleet, and comes back where that was wrong or it returned."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.core.files.base import ContentFile
from django.utils import timezone
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.day_bounds import DayBounds
from core.days import full_day
from core.events import already
from core.models import User
from core.photos import CleanScan
from core.revisions import kept_of
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import Custody, Disposal, Instrument, InstrumentPaper, Whereabouts
from inventory.rules.federal import share_of
from inventory.rules.leaving import PAID, WRITTEN_OFF, Way, amount_at_stake
from inventory.selectors.leaving import amount_to_approve, approvers_of, asks_password, federal_terms, serial_taken
from inventory.services.checking import check_row, save_columns
from inventory.services.event_log import log_event
from inventory.services.registering import revoke_tag
from inventory.services.state import lock_instrument, move_instrument, write

LEFT_ON = DayBounds(years_back=10)  # a record of what went long ago is put right, too
AWAY = (Whereabouts.WITH_STUDENT, Whereabouts.ON_BENCH, Whereabouts.AT_SHOP)
TYPED = ("because", "recipient", "findings", "police_agency", "police_number", "insurer", "claim_number")
CHANGEABLE = frozenset({*TYPED, "proceeds_amount", "agency_notified_on"}) - {"because"}


@service(once="nonce")
def leave_fleet(
    *,
    instrument: Instrument,
    way: str,
    on: date,
    because: str,
    value_amount: Decimal,
    actor: User,
    at: datetime,
    approved_by: User | None = None,
    is_confirmed: bool = False,
    nonce: UUID | None = None,
    keeps_handling: bool = False,
    **fields: Any,
) -> Disposal:
    """Record how an instrument left the fleet. From then on it is gone: in no count, need or plan.

    ``value_amount`` is what it was worth as it was. ``fields`` are further columns of Disposal. It must be in storage,
    or not found where it is written off; who sees to loans and jobs is the caller (``desk.services.leaving``). Its tags
    are revoked unless somebody may still find it. What a federal award paid for asks its fair market value, and the
    share owed is kept; ``keeps_handling``: less what the awarding agency lets the district keep.
    """
    row = lock_instrument(instrument)
    how = Way(way)
    _check_where(row, how)
    _check_day(row, on, today=timezone.localdate(at))
    if not because.strip():
        raise RefusedError(gettext("Enter a reason."))
    if how not in PAID and fields.get("proceeds_amount"):
        raise RefusedError(gettext("Proceeds are for what was sold or traded in."))
    if how in PAID and fields.get("proceeds_amount") is None:
        raise RefusedError(gettext("Enter what was paid or credited for it, $0 if nothing was."))
    fields |= _federal(row, how, keeps_handling=keeps_handling, **fields)
    at_stake = amount_at_stake([value_amount, fields.get("proceeds_amount"), fields.get("market_amount")])
    _check_approval(row, at_stake, approved_by=approved_by, is_confirmed=is_confirmed, actor=actor)
    before = row.whereabouts
    move_instrument(instrument=row, expected=before, to=Whereabouts.GONE, actor=actor, at=at, reference="disposal")
    typed = {name: _tidy(name, str(fields.pop(name))) for name in TYPED if name in fields}
    disposal = Disposal(
        instrument=row,
        custody=Custody.objects.get(instrument=row, until=None),
        way=how,
        on=on,
        because=" ".join(because.split())[:400],
        value_amount=value_amount,
        approved_by=approved_by,
        is_confirmed=is_confirmed,
        recorded_at=at,
        actor=actor,
        **typed,
        **fields,
    )
    check_row(disposal)
    disposal.save(force_insert=True)
    log_event(instrument=row, act="left_fleet", subject=disposal, **kept_of(Disposal).beginning(disposal))
    if how not in WRITTEN_OFF:
        for tag in row.tags.live():
            revoke_tag(tag=tag, actor=actor, at=at, because="left the fleet")
    if how is Way.ERROR:
        write(row, is_entered_in_error=True)
        log_event(instrument=row, act="registered_in_error")
    return disposal


def _tidy(name: str, text: str) -> str:
    """Return typed text without blanks beside and between; findings are of several lines, which stay."""
    lines = (" ".join(line.split()) for line in text.strip().splitlines())
    return ("\n" if name == "findings" else " ").join(lines)


def _federal(row: Instrument, way: Way, *, keeps_handling: bool, **fields: Any) -> dict[str, Any]:
    """Return what is owed where a federal award paid for equipment that somebody gave up; {} where none did."""
    terms = federal_terms(row)
    if terms is None or way is Way.ERROR:
        return {}
    market, found = fields.get("market_amount"), {"federal_percent": terms.percent, "threshold_amount": terms.threshold}
    if market is None:
        raise RefusedError(gettext("A federal award paid for it. Enter its fair market value."))
    if way in WRITTEN_OFF or not terms.is_equipment:
        return found
    share = share_of(
        percent=terms.percent,
        market=market,
        proceeds=fields.get("proceeds_amount") if way in PAID else None,
        awarded_on=row.awarded_on,
        earlier=terms.earlier,
        keeps_handling=keeps_handling,
    )
    return {**found, "share_amount": share.owed}


def _check_where(row: Instrument, way: Way) -> None:
    if row.merged_into_id is not None:
        raise RefusedError(gettext("%(number)s was merged into another record.") % {"number": row.asset_number})
    if row.whereabouts == Whereabouts.GONE:
        words = gettext("%(number)s has already left the fleet. Nothing was changed.") % {"number": row.asset_number}
        raise RefusedError(already(words, subject=row, acts=["moved"]))
    if row.whereabouts == Whereabouts.NOT_FOUND and way not in WRITTEN_OFF | {Way.ERROR}:
        raise RefusedError(gettext("It is not found. Record that it is back first, or write it off as lost or stolen."))
    if row.whereabouts in AWAY:
        where = row.get_whereabouts_display().lower()
        raise RefusedError(gettext("It is %(where)s. Bring it back to storage first.") % {"where": where})


def _check_day(row: Instrument, on: date, *, today: date) -> None:
    LEFT_ON.check(on, today=today)
    if row.acquired_on is not None and on < row.acquired_on:
        words = gettext("That day is before it was acquired, %(day)s.")
        raise RefusedError(words % {"day": full_day(row.acquired_on)})
    spans = Custody.objects.filter(instrument=row, whereabouts__in=AWAY, undone_at=None).exclude(until=None)
    last = spans.order_by("-until").values_list("until", flat=True).first()
    if last is not None and on < timezone.localdate(last):
        words = gettext("That day is before it came back to storage, %(day)s.")
        raise RefusedError(words % {"day": full_day(timezone.localdate(last))})


def _check_approval(
    row: Instrument, amount: Decimal, *, approved_by: User | None, is_confirmed: bool, actor: User
) -> None:
    if approved_by is None or approved_by not in approvers_of(row.school_id, amount=amount, but_for=actor):
        raise RefusedError(gettext("Say who approved it: somebody else who may approve that amount at this school."))
    if asks_password(amount, approver=approved_by, asker=actor) and not is_confirmed:
        raise RefusedError(gettext("Above the district's limit the approver types their own password."))


@service(once="nonce")
def correct_disposal(
    *,
    disposal: Disposal,
    actor: User,
    at: datetime,
    approved_by: User | None = None,
    is_confirmed: bool = False,
    nonce: UUID | None = None,
    **fields: Any,
) -> Disposal:
    """Add or correct what became known later: who has it, what was paid, what an investigation found.

    The awarding agency's share follows corrected proceeds. Proceeds that raise the amount above a limit are approved
    like the disposal itself; ``approved_by`` is kept only then.
    """
    if unknown := set(fields) - CHANGEABLE:
        raise TypeError(f"not changeable: {', '.join(sorted(unknown))}")
    row = lock_instrument(disposal.instrument_id)
    fresh = lock_row(disposal)
    fresh.instrument = row
    if Way(fresh.way) not in PAID and fields.get("proceeds_amount"):
        raise RefusedError(gettext("Proceeds are for what was sold or traded in."))
    if Way(fresh.way) in PAID and "proceeds_amount" in fields and fields["proceeds_amount"] is None:
        raise RefusedError(gettext("Enter what was paid or credited for it, $0 if nothing was."))
    columns: dict[str, Any] = {name: _tidy(name, value) if name in TYPED else value for name, value in fields.items()}
    if fields.get("proceeds_amount", fresh.proceeds_amount) != fresh.proceeds_amount:
        columns |= _share_of_corrected(fresh, proceeds=fields["proceeds_amount"])
        amount = amount_to_approve(fresh, proceeds=fields["proceeds_amount"])
        if amount is not None:
            _check_approval(row, amount, approved_by=approved_by, is_confirmed=is_confirmed, actor=actor)
            columns |= {"approved_by": approved_by, "is_confirmed": is_confirmed}
    before = {name: getattr(fresh, name) for name in columns}
    if changed := save_columns(fresh, **columns):
        change: Mapping[str, Any] = kept_of(Disposal).change(fresh, before, changed)
        log_event(instrument=row, act="disposal_corrected", subject=fresh, **change)
    return fresh


def _share_of_corrected(disposal: Disposal, *, proceeds: Decimal) -> dict[str, Any]:
    """Return what the awarding agency is owed of other proceeds; {} where it is owed nothing of a sale."""
    if disposal.share_amount is None or disposal.federal_percent is None or disposal.market_amount is None:
        return {}
    terms: dict[str, Any] = {
        "percent": disposal.federal_percent,
        "market": disposal.market_amount,
        "awarded_on": disposal.instrument.awarded_on,
        "earlier": disposal.threshold_amount,
    }
    whole = share_of(**terms, proceeds=disposal.proceeds_amount)
    kept_some = disposal.share_amount < whole.owed
    return {"share_amount": share_of(**terms, proceeds=proceeds, keeps_handling=kept_some).owed}


@service(once="nonce")
def bring_back(
    *,
    disposal: Disposal,
    because: str,
    was_wrong: bool,
    actor: User,
    at: datetime,
    back_on: date | None = None,
    nonce: UUID | None = None,
) -> Disposal:
    """Put an instrument back into the fleet, in storage: it returned, or with ``was_wrong`` it never left."""
    row = lock_instrument(disposal.instrument_id)
    fresh = lock_row(disposal)
    today = timezone.localdate(at)
    if fresh.ended_at is not None:
        words = gettext("%(number)s is already back. Nothing was changed.") % {"number": row.asset_number}
        raise RefusedError(already(words, subject=fresh, acts=["back_in_fleet"]))
    if not because.strip():
        raise RefusedError(gettext("Say why it is back."))
    is_error = fresh.way == Way.ERROR
    day = None if was_wrong or is_error else back_on or today
    if day is not None and not fresh.on <= day <= today:
        raise RefusedError(gettext("It came back between the day it left and today."))
    if is_error and serial_taken(row):
        words = gettext("Another record has the serial %(serial)s now. Correct that one first.")
        raise NumberTakenError(words % {"serial": row.serial})
    move_instrument(instrument=row, expected=Whereabouts.GONE, to=Whereabouts.IN_STORE, actor=actor, at=at)
    words = " ".join(because.split())[:400]
    ended: dict[str, Any] = {
        "ended_at": at, "ended_by": actor, "ended_because": words, "back_on": day, "was_wrong": day is None,
    }  # fmt: skip
    if day is None:
        Custody.objects.filter(pk=fresh.custody_id).update(undone_at=at)
    save_columns(fresh, **ended)
    log_event(
        instrument=row, act="back_in_fleet", subject=fresh, after={"back_on": day, "was_wrong": day is None},
        texts={"ended_because": (None, words)},
    )  # fmt: skip
    if is_error:
        write(row, is_entered_in_error=False)
        log_event(instrument=row, act="error_withdrawn")
    return fresh


@service(once="nonce")
def keep_paper(
    *,
    instrument: Instrument,
    title: str,
    scan: CleanScan,
    actor: User,
    at: datetime,
    disposal: Disposal | None = None,
    nonce: UUID | None = None,
) -> InstrumentPaper:
    """Keep a scan with the instrument, or with how it left; the same file again is the same paper."""
    row = lock_instrument(instrument)
    digest = hashlib.sha256(scan.content).hexdigest()
    again = InstrumentPaper.objects.standing().filter(instrument=row, disposal=disposal, sha256=digest).first()
    if again is not None:
        return again
    words = " ".join(title.split())[:80]
    paper = InstrumentPaper(instrument=row, disposal=disposal, title=words, sha256=digest, kept_at=at, actor=actor)
    paper.file.save(f"instrument-{row.pk}{scan.extension}", ContentFile(scan.content), save=False)
    paper.save(force_insert=True)
    log_event(instrument=row, act="paper_kept", subject=paper, after={"sha256": digest})
    return paper


@service(once="nonce")
def withdraw_paper(
    *, paper: InstrumentPaper, because: str, actor: User, at: datetime, nonce: UUID | None = None
) -> InstrumentPaper:
    """Take back a paper that was filed by mistake: it is no longer opened; that it was there stays."""
    row = lock_instrument(paper.instrument_id)
    fresh = lock_row(paper)
    if fresh.withdrawn_at is not None:
        words = gettext("This paper has already been withdrawn. Nothing was changed.")
        raise RefusedError(already(words, subject=fresh, acts=["paper_withdrawn"]))
    words = " ".join(because.split())[:200]
    if not words:
        raise RefusedError(gettext("Enter a reason."))
    save_columns(fresh, withdrawn_at=at, withdrawn_by=actor, withdrawn_because=words)
    log_event(
        instrument=row, act="paper_withdrawn", subject=fresh, after={"sha256": fresh.sha256},
        texts={"withdrawn_because": (None, words)},
    )  # fmt: skip
    return fresh
