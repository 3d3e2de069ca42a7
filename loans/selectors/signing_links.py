"""Links by which guardians sign: whose it is, and whether it still opens."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Final

from django.db import models
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from loans.models import Guardian, Loan, SigningLink
from loans.selectors.agreements import agreed_facts, current_terms

READ_WITH = (
    "guardian", "terms", "loan__agreement", "loan__instrument", "loan__school", "loan__student", "loan__hand_out",
    "loan__actor",
)  # fmt: skip


class Standing(models.TextChoices):
    """Where a link stands. Once it ended it never opens again."""

    WAITS = "waits", _("Waiting to be mailed")
    SENT = "sent", _("Sent, not opened yet")
    OPENED = "opened", _("Opened, not signed yet")
    SIGNED = "signed", _("Signed")
    DENIED = "denied", _("Not my child")
    REVOKED = "revoked", _("Revoked")
    REPLACED = "replaced", _("Replaced by a newer link")
    UNSENT = "unsent", _("Not mailed: the mail server refused it")
    ELSEWHERE = "elsewhere", _("Signed another way")
    OVER = "over", _("The loan is over")
    EXPIRED = "expired", _("Expired")
    CHANGED = "changed", _("The agreement has changed since")


SHOWN_FOR: Final = timedelta(hours=1)
OPENS: Final = frozenset({Standing.SENT, Standing.OPENED})
IS_OPEN: Final = OPENS | {Standing.WAITS}


def digest_of(token: str) -> str:
    """Return what is stored of a token; letters of either case are the same."""
    return hashlib.sha256(token.upper().encode()).hexdigest()


def address_of(token: str, *, home: str) -> str:
    """Return where a link leads, in capitals throughout so that its QR code stays small."""
    return f"{home.rstrip('/')}/S/{token}".upper()


def agreed_hash(loan: Loan, guardian: Guardian) -> str:
    """Return a hash of what is agreed and of whom it was sent to, which nobody makes without the server's key."""
    agreed = [agreed_facts(loan), guardian.name, guardian.email]
    return salted_hmac("loans.signing_link", json.dumps(agreed, sort_keys=True), algorithm="sha256").hexdigest()


def days_open() -> int:
    return int(catalog().settings["signing_link_days"])


def link_of(token: str) -> SigningLink | None:
    return SigningLink.objects.filter(token_hash=digest_of(token)).select_related(*READ_WITH).first()


def standing_of(link: SigningLink, *, at: datetime) -> Standing:
    """Return where a link stands, read ``READ_WITH`` what it is about."""
    loan = link.loan
    if link.ended:
        return Standing(link.ended)
    if hasattr(loan, "agreement") or loan.is_signed_elsewhere:
        return Standing.ELSEWHERE
    if not loan.is_open:
        return Standing.OVER
    if link.expires_at <= at:
        return Standing.EXPIRED
    newest = current_terms(link.guardian.language)
    if newest.pk != link.terms_id or agreed_hash(loan, link.guardian) != link.agreed_hash:
        return Standing.CHANGED
    if link.token_hash is None:
        return Standing.WAITS
    return Standing.OPENED if link.opened_at else Standing.SENT


def is_just_signed(link: SigningLink, *, at: datetime) -> bool:
    """Whether whoever signed may still see what was signed, to keep a copy."""
    return link.ended_at is not None and at < link.ended_at + SHOWN_FOR


def links_of(loan: Loan, *, at: datetime) -> list[tuple[SigningLink, Standing]]:
    """Return the links of a loan with where each stands, newest first."""
    rows: Iterable[SigningLink] = SigningLink.objects.filter(loan=loan).select_related(*READ_WITH)
    return [(link, standing_of(link, at=at)) for link in rows]
