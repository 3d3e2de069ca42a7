"""Each rule with a row that it finds and one that it does not. Common practice of inventory audits, no source."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

import pytest

from desk.selectors.exceptions import RULES, never_issued
from inventory.models import Purpose, Role, School, Tag
from inventory.services.registering import revoke_tag
from repairs.models import ShopOrder
from tests.factories import (
    NOW,
    TODAY,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_school,
    make_student,
    make_user,
)
from tests.loans.makers import make_agreement, make_loan
from tests.repairs.makers import make_job
from tests.repairs.money_makers import make_order, make_returned_order

BROKEN, STUCK = ("braces_and_finger_hooks", "solder_broken", "light"), ("third_valve_slide", "slide_seized", "light")


def found(rule: str, user) -> list:
    return list(RULES[rule].rows(user, TODAY + timedelta(days=60)))


@pytest.fixture(scope="module")
def district(shared_rows) -> Iterator[School]:
    return make_school(code="ELM")


@pytest.fixture
def auditor(db, district):
    return make_user(Role.AUDITOR)


def test_no_tag_and_no_serial(auditor, district):
    good, bare = make_instrument(school=district), make_instrument(school=district, serial="")
    tag = Tag.objects.get(instrument=bare)
    revoke_tag(tag=tag, because="Torn", actor=auditor, at=NOW)
    assert found("no-tag", auditor) == found("no-serial", auditor) == [bare]
    assert good.serial


def test_a_bill_without_a_job(auditor, district):
    alone = make_returned_order(amount=90, instrument=make_ready_instrument(school=district))
    job = make_job(school=district)
    with_job = make_returned_order(amount=90, instrument=job.instrument)
    assert with_job.job_id
    make_returned_order(instrument=make_ready_instrument(school=district))  # its bill is to come
    assert found("no-job", auditor) == [alone]


@pytest.mark.parametrize(
    ("amount", "approved", "is_found"),
    [("150.00", None, False), ("150.01", None, True), ("900.00", "900.00", False), ("900.01", "900.00", True)],
)
def test_above_the_limit_without_approval(auditor, district, amount, approved, is_found):
    """The limit in settings.yaml is 150 dollars: a bill of the limit itself is not above it."""
    order = make_returned_order(amount=90, instrument=make_ready_instrument(school=district))
    approval = {"approved_amount": Decimal(approved), "approved_at": NOW, "approved_by": auditor} if approved else {}
    ShopOrder.objects.filter(pk=order.pk).update(invoice_amount=Decimal(amount), **approval)
    assert found("over-limit", auditor) == ([order] if is_found else [])


def test_what_was_only_asked_is_above_no_limit(auditor, district):
    make_order(expected_high_amount=Decimal(5000), instrument=make_ready_instrument(school=district))
    assert found("over-limit", auditor) == []


@pytest.mark.parametrize(
    ("returns", "is_found"), [([1, 1], True), ([1], False), ([1, 0, 1], False), ([0, 1, 1], True), ([1, 1, 0], False)]
)
def test_failed_its_last_two_returns(auditor, district, returns, is_found):
    horn = make_ready_instrument(school=district)
    for number, failed in enumerate(returns):
        walked = make_inspection(instrument=horn, purpose=Purpose.RETURN, at=NOW + timedelta(days=number))
        if failed:
            type(walked).objects.filter(pk=walked.pk).update(verdict="does_not_play")
    make_inspection(instrument=horn, purpose=Purpose.SPOT, at=NOW + timedelta(days=9))  # no return
    assert found("returns", auditor) == ([horn] if is_found else [])


def test_past_its_date_and_unsigned(auditor, district):
    late = make_loan(school=district, due_on=TODAY + timedelta(days=59))
    make_agreement(late)
    on_the_day = make_loan(school=district, due_on=TODAY + timedelta(days=60))
    assert found("overdue", auditor) == [late]
    assert found("unsigned", auditor) == [on_the_day]


def test_out_in_spite_of_a_fault_that_must_be_repaired_first(auditor, district):
    good, broken, here = (make_ready_instrument(school=district) for _ in range(3))
    for horn in (good, broken):
        make_loan(instrument=horn, student=make_student(school=district))
    for horn, finding in ((good, STUCK), (broken, BROKEN), (here, BROKEN)):
        make_inspection(instrument=horn, findings=[finding], purpose=Purpose.SPOT, at=NOW + timedelta(days=3))
    assert found("never-issue", auditor) == [broken]
    reasons = never_issued([good.pk, broken.pk])
    assert reasons.keys() == {broken.pk}
    assert "One open joint loads the next" in reasons[broken.pk]


def test_an_auditor_of_another_school_finds_nothing(auditor, district):
    make_loan(school=district, due_on=TODAY)
    make_instrument(school=district, serial="")
    other = make_user(Role.AUDITOR, school=make_school())
    assert [rule for rule in RULES if found(rule, other)] == []
    assert found("overdue", auditor)
