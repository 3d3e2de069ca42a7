"""Decisions in the database."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from repairs.models import ANSWER_LABELS, WorthDecision
from repairs.rules.worth import Answer
from tests.factories import NOW, make_ready_instrument, make_user, new_nonce

pytestmark = pytest.mark.django_db


def make_decision(**overrides) -> WorthDecision:
    fields = {
        "instrument": overrides.pop("instrument", None) or make_ready_instrument(), "nonce": new_nonce(),
        "answer": "retire", "advised": "retire", "cost_p50_amount": Decimal(1), "cost_p80_amount": Decimal(2),
        "value_amount": Decimal(3), "decided_at": NOW, "decided_by": make_user(), "is_approval_needed": True,
    } | overrides  # fmt: skip
    return WorthDecision.objects.create(**fields)


def test_every_answer_of_the_rule_has_its_words():
    assert set(ANSWER_LABELS) == set(Answer)


def test_settled_is_settled_by_somebody():
    with pytest.raises(IntegrityError), transaction.atomic():
        make_decision(settled_at=NOW)


def test_only_the_newest_waits_and_it_holds_when_approved():
    instrument = make_ready_instrument()
    make_decision(instrument=instrument)
    newest = make_decision(instrument=instrument)
    assert list(WorthDecision.objects.waiting()) == [newest]
    assert not newest.holds
    newest.is_approved = True
    assert newest.holds
    assert make_decision(is_approval_needed=False).holds
