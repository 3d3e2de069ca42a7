"""Links by which guardians sign: whose it is, and whether it still opens."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import models
from django.utils.crypto import salted_hmac
from django.utils.translation import gettext_lazy as _

from inventory.catalog.load import catalog
from inventory.selectors.setup import district_name
from loans.models import Guardian, Loan, LoanQuerySet, Notice, SigningLink
from loans.selectors.agreements import agreed_facts, current_terms, listed_remarks
from loans.selectors.comparing import handed_out_with_each
from loans.selectors.families import LANGUAGES
from loans.selectors.notices import guardian_to_tell, way_to

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
TO_LOOK_AT: Final = frozenset({Standing.DENIED, Standing.UNSENT})


def digest_of(token: str) -> str:
    """Return what is stored of a token; letters of either case are the same."""
    return hashlib.sha256(token.upper().encode()).hexdigest()


def address_of(token: str, *, home: str) -> str:
    """Return where a link leads, in capitals throughout so that its QR code stays small."""
    return f"{home.rstrip('/')}/S/{token}".upper()


def agreed_hash(loan: Loan, guardian: Guardian, **read: Any) -> str:
    """Return a hash of what is agreed and of whom it was sent to, which nobody makes without the server's key.

    ``read`` is what ``agreed_facts`` takes of many loans.
    """
    agreed = [agreed_facts(loan, **read), guardian.name, guardian.email]
    return salted_hmac("loans.signing_link", json.dumps(agreed, sort_keys=True), algorithm="sha256").hexdigest()


def days_open() -> int:
    return int(catalog().settings["signing_link_days"])


def link_of(token: str) -> SigningLink | None:
    return SigningLink.objects.filter(token_hash=digest_of(token)).select_related(*READ_WITH).first()


def standing_of(link: SigningLink, *, at: datetime) -> Standing:
    """Return where a link stands, read ``READ_WITH`` what it is about."""
    return _standing(link, at=at, newest=lambda language: current_terms(language).pk, agreed=agreed_hash)


def _standing(
    link: SigningLink, *, at: datetime, newest: Callable[[str], Any], agreed: Callable[[Loan, Guardian], str]
) -> Standing:
    """``newest`` answers with the key of the newest terms in a language."""
    loan = link.loan
    if link.ended:
        return Standing(link.ended)
    if hasattr(loan, "agreement") or loan.is_signed_elsewhere:
        return Standing.ELSEWHERE
    if not loan.is_open:
        return Standing.OVER
    if link.expires_at <= at:
        return Standing.EXPIRED
    if newest(link.guardian.language) != link.terms_id or agreed(loan, link.guardian) != link.agreed_hash:
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


def link_of_each(loans: Collection[int], *, at: datetime) -> Mapping[int, tuple[SigningLink, Standing]]:
    """Return of each loan that ever had a link the one that counts, by the same few queries for one loan and for many.

    That is the newest where somebody has to look at it; else one that works, or else the newest.
    """
    return {
        loan: links[0] if links[0][1] in TO_LOOK_AT else next((one for one in links if one[1] in IS_OPEN), links[0])
        for loan, links in _links_of_each(loans, at=at).items()
    }


def _links_of_each(loans: Collection[int], *, at: datetime) -> dict[int, list[tuple[SigningLink, Standing]]]:
    """Return the links of each loan that ever had one with where each stands, newest first."""
    links = list(
        SigningLink.objects.filter(loan__in=loans)
        .select_related(*READ_WITH)
        .prefetch_related("loan__hand_out__photos")
        .order_by("-pk")
    )
    if not links:
        return {}
    lent, district = [link.loan for link in links], district_name()
    found, remarks = handed_out_with_each(lent), listed_remarks(lent)
    newest = {language: current_terms(language).pk for language in LANGUAGES}

    def agreed(loan: Loan, guardian: Guardian) -> str:
        texts = remarks.get(loan.pk, ())
        return agreed_hash(loan, guardian, found=found[loan.pk], district=district, remarks=texts)

    each: dict[int, list[tuple[SigningLink, Standing]]] = {}
    for link in links:
        standing = _standing(link, at=at, newest=newest.get, agreed=agreed)
        each.setdefault(link.loan_id, []).append((link, standing))
    return each


@dataclass(frozen=True, slots=True)
class ToSend:
    """Unsigned loans by how a link would reach the guardian; ``linked`` and ``nobody`` are numbers of loans."""

    mailed: list[tuple[Loan, Guardian]]
    printed: list[tuple[Loan, Guardian]]  # no guardian can be mailed to
    linked: int  # a link that works stands
    nobody: int  # no guardian is entered, or none is to sign


def links_to_send(loans: LoanQuerySet, *, at: datetime) -> ToSend:
    """Return what is to be sent for these loans: nothing where a link stands. The same few queries for one and many."""
    rows = list(loans.unsigned().for_signing().order_by("student__sort_name", "pk"))
    known = _links_of_each([loan.pk for loan in rows], at=at)
    standing = {loan for loan, links in known.items() if any(stands in IS_OPEN for _link, stands in links)}
    mailed: list[tuple[Loan, Guardian]] = []
    printed: list[tuple[Loan, Guardian]] = []
    linked = nobody = 0
    for loan in rows:
        first = guardian_to_tell(loan)
        if loan.pk in standing:
            linked += 1
        elif first is None:
            nobody += 1
        else:
            reached = [one for one in loan.student.guardians.all() if way_to(one) == Notice.Way.EMAIL]
            (mailed if reached else printed).append((loan, reached[0] if reached else first))
    return ToSend(mailed, printed, linked, nobody)
