"""Signing for what is out already; the paper is queued with the signature."""

from __future__ import annotations

from datetime import datetime
from typing import Required, TypedDict

from core.acts import service
from core.models import User
from core.photos import CleanScan
from loans.models import Agreement, AgreementTerms, Loan
from loans.services import sign_agreement
from loans.tasks import make_paper


class Signing(TypedDict, total=False):
    """How it was signed, and which terms; as ``sign_agreement`` takes it."""

    signed: Required[str]
    terms: AgreementTerms
    student_signature: bytes
    guardian_signature: bytes
    guardian_signer: str
    scan: CleanScan | None


@service
def sign_lent(*, loan: Loan, signing: Signing, actor: User, at: datetime) -> Agreement:
    """Sign for a loan, whether it goes out in the same act or is out already, and queue its PDF."""
    agreement = sign_agreement(loan=loan, actor=actor, at=at, **signing)
    make_paper.enqueue(agreement=agreement.pk)
    return agreement
