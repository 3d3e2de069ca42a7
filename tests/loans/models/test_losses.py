"""A case as a row."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from loans.models import Loss
from tests.factories import NOW, TODAY
from tests.loans.makers import make_loss


def test_a_loan_has_one_open_case_and_an_ended_one_says_how(db):
    loss = make_loss()
    assert str(loss) == f"loss {loss.pk}"
    for columns in ({}, {"ended_at": NOW}, {"outcome": "found"}):
        with pytest.raises(IntegrityError), transaction.atomic():
            Loss.objects.create(
                loan=loss.loan, sort="lost", noticed_on=TODAY, search_until=TODAY, reported_at=NOW, actor=loss.actor,
                **columns,
            )  # fmt: skip
