"""Signing for what is out already; the paper is queued with the signature."""

from __future__ import annotations

from datetime import datetime

from core.acts import service
from core.models import User
from loans.models import Agreement, Loan
from loans.services import Signing, sign_agreement
from loans.tasks import make_paper


@service
def sign_lent(*, loan: Loan, signing: Signing, actor: User, at: datetime) -> Agreement:
    """Sign for a loan, whether it goes out in the same act or is out already, and queue its PDF."""
    agreement = sign_agreement(loan=loan, actor=actor, at=at, **signing)
    make_paper.enqueue(agreement=agreement.pk)
    return agreement
