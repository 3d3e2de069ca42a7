"""Where a link stands follows from the rows: nothing else has to end it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from loans.models import Guardian, Loan, SigningLink
from loans.selectors.signing_links import (
    Standing,
    address_of,
    link_of,
    link_of_each,
    links_of,
    links_to_send,
    standing_of,
)
from loans.services import undo_loan, write_terms
from loans.services.due_dates import change_due_dates
from loans.services.signing_links import deny_link, revoke_link
from tests.factories import NOW, TODAY
from tests.loans.makers import make_agreement, make_loan, make_signing_link

LATER = NOW + timedelta(hours=1)


def new_terms(loan: Loan) -> None:
    write_terms(text="Bring it back dry.", actor=loan.actor, at=LATER)


def new_due_date(loan: Loan) -> None:
    change_due_dates(loans=[loan], due_on=TODAY + timedelta(days=30), actor=loan.actor, at=LATER)


def new_address(loan: Loan) -> None:
    Guardian.objects.filter(student=loan.student).update(email="somebody@else.example")


def taken_back(loan: Loan) -> None:
    Loan.objects.filter(pk=loan.pk).update(returned_at=LATER)


def undone(loan: Loan) -> None:
    undo_loan(loan=loan, left_the_room=False, actor=loan.actor, at=LATER)


def signed_on_screen(loan: Loan) -> None:
    make_agreement(loan)


def kept_elsewhere(loan: Loan) -> None:
    Loan.objects.filter(pk=loan.pk).update(is_signed_elsewhere=True)


@pytest.mark.parametrize(
    ("then", "standing"),
    [
        (str, Standing.SENT),
        (new_terms, Standing.CHANGED),
        (new_due_date, Standing.CHANGED),
        (new_address, Standing.CHANGED),
        (taken_back, Standing.OVER),
        (undone, Standing.OVER),
        (signed_on_screen, Standing.ELSEWHERE),
        (kept_elsewhere, Standing.ELSEWHERE),
    ],
)
def test_what_ends_a_link(then, standing, db):
    link, token = make_signing_link(make_loan(), at=NOW)
    then(link.loan)
    assert standing_of(link_of(token), at=LATER) is standing
    assert link_of_each([link.loan_id], at=LATER) == {link.loan_id: (link, standing)}


def test_of_many_links_one_that_works_counts_or_else_the_newest_and_a_denial_before_both(db):
    link, _ = make_signing_link(make_loan(), at=NOW)
    second = Guardian.objects.create(student=link.loan.student, place=2, name="Second Parent")
    newer, _ = make_signing_link(link.loan, guardian=second, at=NOW)
    revoke_link(link=newer, actor=link.actor, at=LATER)
    assert link_of_each([link.loan_id, 0], at=LATER) == {link.loan_id: (link, Standing.SENT)}
    denied, _ = make_signing_link(link.loan, guardian=second, at=NOW)
    deny_link(link=denied, actor=None, at=LATER)
    assert link_of_each([link.loan_id], at=LATER) == {link.loan_id: (denied, Standing.DENIED)}
    to_send = links_to_send(Loan.objects.all(), at=LATER)
    assert (to_send.linked, to_send.mailed, to_send.printed) == (1, [], []), "the older one still works"
    revoke_link(link=link, actor=link.actor, at=LATER)
    assert link_of_each([link.loan_id], at=LATER) == {link.loan_id: (denied, Standing.DENIED)}


def test_it_expires_by_the_figure_of_the_district(db):
    link, token = make_signing_link(make_loan(), at=NOW)
    last = NOW + timedelta(days=14)
    assert link.expires_at == last
    assert standing_of(link_of(token), at=last - timedelta(seconds=1)) is Standing.SENT
    assert standing_of(link_of(token), at=last) is Standing.EXPIRED


def test_the_row_holds_no_token_and_letters_of_either_case_find_it(db):
    link, token = make_signing_link(make_loan(), at=NOW)
    kept = SigningLink.objects.values_list(*(field.attname for field in SigningLink._meta.fields)).get()
    assert token not in map(str, kept)
    assert link_of(token.lower()) == link
    assert link_of(token[:-1]) is None
    assert [(link, Standing.SENT)] == links_of(link.loan, at=LATER)
    assert address_of(token, home="https://horns.example/") == f"HTTPS://HORNS.EXAMPLE/S/{token}"
