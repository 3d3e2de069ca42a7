"""Signing for what is out already; the paper is queued with the signature."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime

from django.utils.translation import gettext

from core.acts import service
from core.models import User
from core.photos import CleanScan
from inventory.services.state import lock_instruments
from loans.exceptions import AgreementRefusedError
from loans.models import Agreement, Guardian, Loan, PaperToSign, SigningLink
from loans.pdf import content_of
from loans.pdf.signing_links import agreement_text
from loans.selectors.signing_links import links_to_send
from loans.selectors.to_sign import loan_of_paper, signed_paper_for
from loans.services import Signing, sign_agreement
from loans.services.signing_links import end_link, lock_open_link, make_link
from loans.services.to_sign import keep_signed_paper, use_paper
from loans.tasks import mail_signing_link, make_paper


@service
def sign_lent(*, loan: Loan, signing: Signing, actor: User | None, at: datetime) -> Agreement:
    """Sign for a loan, whether it goes out in the same act or is out already, and queue its PDF."""
    agreement = sign_agreement(loan=loan, actor=actor, at=at, **signing)
    make_paper.enqueue(agreement=agreement.pk)
    return agreement


def sign_by_paper_that_came_back(*, loan: Loan, actor: User, at: datetime) -> Agreement | None:
    """Sign for a new loan by the paper that came back signed before it, if there is one. Called within the lending."""
    paper = signed_paper_for(loan)
    if paper is None:
        return None
    content = content_of(paper.scan)
    scan = CleanScan(content, "application/pdf" if content.startswith(b"%PDF-") else "image/jpeg", paper.scan_sha256)
    return _sign_by(paper=paper, loan=loan, scan=scan, actor=actor, at=at)


@service
def take_in_paper(*, paper: PaperToSign, scan: CleanScan, actor: User, at: datetime) -> Agreement | None:
    """Sign for the loan that the paper is for; before there is one, keep the scan until it is lent (None)."""
    loan = loan_of_paper(paper)
    if loan is None or paper.done_at is not None:
        keep_signed_paper(paper=paper, scan=scan, actor=actor, at=at)
        return None
    return _sign_by(paper=paper, loan=loan, scan=scan, actor=actor, at=at)


def _sign_by(*, paper: PaperToSign, loan: Loan, scan: CleanScan, actor: User, at: datetime) -> Agreement:
    signing = Signing(signed=Agreement.Signed.PAPER, scan=scan, terms=paper.terms)
    agreement = sign_lent(loan=loan, signing=signing, actor=actor, at=at)
    use_paper(paper=paper, agreement=agreement, actor=actor, at=at)
    return agreement


@service
def mail_link(*, loan: Loan, guardian: Guardian, home: str, actor: User, at: datetime) -> SigningLink:
    """Make a link for a guardian and queue the letter with it."""
    link = make_link(loan=loan, guardian=guardian, token="", actor=actor, at=at)
    mail_signing_link.enqueue(link=link.pk, home=home)
    return link


@service
def mail_first_link(*, loan: Loan, home: str, actor: User, at: datetime) -> SigningLink:
    """Mail a link to the first guardian who can be mailed to. Refuses where one works already, or nobody can be."""
    lock_instruments(loan.instrument_id)
    plan = links_to_send(Loan.objects.filter(pk=loan.pk), at=at)
    if plan.mailed:
        return mail_link(loan=plan.mailed[0][0], guardian=plan.mailed[0][1], home=home, actor=actor, at=at)
    if plan.linked:
        raise AgreementRefusedError(gettext("A working link is already out."))
    if plan.printed:
        raise AgreementRefusedError(gettext("No guardian can be reached by e-mail. Print a code instead."))
    if plan.nobody:
        raise AgreementRefusedError(gettext("No guardian has to sign for it."))
    raise AgreementRefusedError(gettext("There is nothing to sign for this loan. No link was made."))


@service
def mail_links(*, loans: Sequence[Loan], home: str, actor: User, at: datetime) -> list[SigningLink]:
    """Mail a link for each of these loans whose guardian has an address, but for those that have one that works."""
    lock_instruments(*(loan.instrument_id for loan in loans))
    plan = links_to_send(Loan.objects.filter(pk__in=[loan.pk for loan in loans]), at=at)
    return [mail_link(loan=loan, guardian=guardian, home=home, actor=actor, at=at) for loan, guardian in plan.mailed]


@service
def sign_by_link(*, link: SigningLink, token: str, seen: str, signer: str, actor: None, at: datetime) -> Agreement:
    """Sign for a loan by a link, which is used up. ``seen`` is the SHA-256 of the text that was on the page."""
    fresh = lock_open_link(link, at=at)
    text = agreement_text(fresh, token=token)
    if hashlib.sha256(text).hexdigest() != seen:
        raise AgreementRefusedError(gettext("The agreement has changed. Read it again, then sign."))
    scan = CleanScan(text, "text/html", seen)
    signing = Signing(
        signed=Agreement.Signed.LINK, terms=fresh.terms, scan=scan, guardian_signer=signer, guardian=fresh.guardian
    )
    agreement = sign_lent(loan=fresh.loan, signing=signing, actor=actor, at=at)
    end_link(link=fresh, how=SigningLink.Ended.SIGNED, at=at)
    return agreement
