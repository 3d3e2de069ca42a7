"""Links by which guardians sign from home: made, mailed, opened, denied, revoked."""

from __future__ import annotations

import base64
import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from core.acts import lock_row, service
from core.events import already, record_event
from core.models import Event, User
from core.traces import as_left
from inventory.services.state import lock_instrument, lock_instruments
from loans.exceptions import AgreementRefusedError, OpenedTooOftenError
from loans.models import Guardian, Loan, SigningLink
from loans.selectors.signing_links import (
    OPENS,
    READ_WITH,
    agreed_hash,
    days_open,
    digest_of,
    links_to_send,
    standing_of,
)
from loans.services.agreements import terms_in_force

OPENINGS_PER_HOUR = 20  # of one link: more than a family needs, less than fills the log
BYTES = 20  # 160 random bits: 32 characters, all of which the small mode of a QR code has


def new_token() -> str:
    return base64.b32encode(secrets.token_bytes(BYTES)).decode()


@service
def make_link(*, loan: Loan, guardian: Guardian, token: str, actor: User, at: datetime) -> SigningLink:
    """Make a link for one guardian; one that the guardian has is replaced.

    ``token`` is on the paper that is handed out now; of a link to be mailed there is none yet (``keep_mailed_link``).
    """
    loan.instrument = lock_instrument(loan.instrument_id)
    fresh = lock_row(loan, "instrument", "school", "student", "hand_out", "actor")
    if guardian.student_id != fresh.student_id:
        raise AgreementRefusedError(_("This is not a guardian of the student."))
    if not fresh.is_open or fresh.is_signed_elsewhere or hasattr(fresh, "agreement"):
        raise AgreementRefusedError(_("There is nothing to sign for this loan. No link was made."))
    if not token and not guardian.email:
        raise AgreementRefusedError(_("This guardian has no e-mail address. Print a code instead."))
    for older in SigningLink.objects.filter(loan=fresh, guardian=guardian, ended_at=None):
        end_link(link=older, how=SigningLink.Ended.REPLACED, at=at)
    link = SigningLink.objects.create(
        loan=fresh,
        guardian=guardian,
        terms=terms_in_force(at=at, language=guardian.language),
        way=SigningLink.Way.PRINT if token else SigningLink.Way.MAIL,
        token_hash=digest_of(token) if token else None,
        agreed_hash=agreed_hash(fresh, guardian),
        made_at=at,
        actor=actor,
        sent_at=at if token else None,
        expires_at=at + timedelta(days=days_open()),
    )
    left = as_left(link, "loan_id", "guardian_id", "terms_id", "way", "sent_at")
    record_event(act="signing_link_made", subject=link, tenant=fresh.school_id, after=left)
    return link


@service
def make_codes(*, loans: Sequence[Loan], actor: User, at: datetime) -> list[tuple[SigningLink, str]]:
    """Return a link to print, with its token, for each loan without one whose guardians cannot be mailed to."""
    lock_instruments(*(loan.instrument_id for loan in loans))
    plan = links_to_send(Loan.objects.filter(pk__in=[loan.pk for loan in loans]), at=at)
    codes = []
    for loan, guardian in plan.printed:
        token = new_token()
        codes.append((make_link(loan=loan, guardian=guardian, token=token, actor=actor, at=at), token))
    return codes


@service
def keep_mailed_link(*, link: SigningLink, token: str, actor: None, at: datetime) -> None:
    """Make a link whose letter was sent good, under the token in the letter."""
    fresh = lock_row(link, "loan")
    fresh.token_hash, fresh.sent_at = digest_of(token), at
    fresh.save(update_fields=["token_hash", "sent_at"])
    record_event(act="signing_link_mailed", subject=fresh, tenant=fresh.loan.school_id)


@service
def give_up_mailing(*, link: SigningLink, actor: None, at: datetime) -> None:
    """End a link whose letter is not tried again."""
    end_link(link=lock_row(link, "loan"), how=SigningLink.Ended.UNSENT, at=at)


@service
def open_link(*, link: SigningLink, actor: None, at: datetime) -> None:
    """Note that somebody opened a link, or refuse where it was opened too often in an hour."""
    fresh = lock_row(link, "loan")
    about = {"subject_type": fresh._meta.label_lower, "subject_id": str(fresh.pk), "act": "signing_link_opened"}
    if Event.objects.filter(**about, at__gt=at - timedelta(hours=1)).count() >= OPENINGS_PER_HOUR:
        raise OpenedTooOftenError(_("This link was opened too many times. Try again in an hour."))
    fresh.opened_at = at
    fresh.save(update_fields=["opened_at"])
    record_event(act="signing_link_opened", subject=fresh, tenant=fresh.loan.school_id)


@service
def deny_link(*, link: SigningLink, actor: None, at: datetime) -> None:
    """End a link because it reached somebody who is no guardian of the student; staff are told on Today."""
    end_link(link=lock_open_link(link, at=at), how=SigningLink.Ended.DENIED, at=at)


@service
def revoke_link(*, link: SigningLink, actor: User, at: datetime) -> None:
    """End a link that went to the wrong person, or is not wanted. Revoking it again changes nothing."""
    fresh = lock_row(link, "loan")
    if not fresh.ended:
        end_link(link=fresh, how=SigningLink.Ended.REVOKED, at=at)


def lock_open_link(link: SigningLink, *, at: datetime) -> SigningLink:
    """Return a link that still opens, as it is now, or refuse. Called within the act that uses it up."""
    instrument = lock_instrument(link.loan.instrument_id)
    lock_row(link)
    fresh = SigningLink.objects.select_related(*READ_WITH).get(pk=link.pk)
    fresh.loan.instrument = instrument
    if standing_of(fresh, at=at) not in OPENS:
        words = _("This link no longer works. Nothing was saved.")
        raise AgreementRefusedError(already(words, subject=fresh, acts=["signing_link_ended"]))
    return fresh


def end_link(*, link: SigningLink, how: SigningLink.Ended, at: datetime) -> None:
    """End a link for good. Called within the act that has locked it."""
    link.ended, link.ended_at = how, at
    link.save(update_fields=["ended", "ended_at"])
    record_event(act="signing_link_ended", subject=link, tenant=link.loan.school_id, after={"how": str(how)})
