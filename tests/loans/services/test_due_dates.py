"""Other due dates: one or many, all or none."""

from __future__ import annotations

import hashlib
from datetime import date, timedelta

import pypdfium2
import pytest
from django.core.management import call_command

from core.models import Event
from core.stored_files import file_differences
from loans.exceptions import AlreadyReturnedError, DueDateError
from loans.models import Addendum, Loan
from loans.selectors.papers import due_papers
from loans.services import change_due_dates, delete_papers, undo_loan
from loans.tasks import print_agreement, queue_papers_of
from tests.factories import NOW, TODAY
from tests.loans.makers import content, make_addendum, make_agreement, make_loan
from tests.opening import differences

NEXT = TODAY + timedelta(days=365)


@pytest.mark.django_db
def test_many_get_another_date_and_each_says_so():
    loans = [make_loan() for _ in range(3)]
    changed = change_due_dates(loans=loans, due_on=NEXT, actor=loans[0].actor, at=NOW)
    assert {loan.pk for loan in changed} == {loan.pk for loan in loans}
    assert set(Loan.objects.values_list("due_on", flat=True)) == {NEXT}
    assert Event.objects.filter(act="due_changed").count() == 3
    assert change_due_dates(loans=loans, due_on=NEXT, actor=loans[0].actor, at=NOW) == []
    assert Event.objects.filter(act="due_changed").count() == 3
    assert differences()[1] == []


@pytest.mark.django_db
@pytest.mark.parametrize("days", [-1, 4 * 366])
def test_a_day_that_is_not_believed_changes_nothing(days):
    loan = make_loan()
    with pytest.raises(DueDateError):
        change_due_dates(loans=[loan], due_on=TODAY + timedelta(days=days), actor=loan.actor, at=NOW)
    assert Loan.objects.get().due_on == loan.due_on


@pytest.mark.django_db
def test_if_one_came_back_none_is_changed():
    loans = [make_loan(), make_loan()]
    undo_loan(loan=loans[1], left_the_room=False, actor=loans[1].actor, at=NOW)
    with pytest.raises(AlreadyReturnedError, match=loans[1].instrument.asset_number):
        change_due_dates(loans=loans, due_on=NEXT, actor=loans[0].actor, at=NOW)
    assert not Loan.objects.filter(due_on=NEXT).exists()


@pytest.mark.django_db
def test_a_signed_agreement_gets_an_addendum_of_its_own_and_stays_as_it_is():
    signed, unsigned = make_agreement(make_loan()), make_loan()
    signed = print_agreement(agreement=signed, actor=None, at=NOW)
    before = signed.pdf_sha256
    loans = [signed.loan, unsigned]
    change_due_dates(loans=loans, due_on=NEXT, actor=signed.loan.actor, at=NOW)
    addendum = Addendum.objects.get()
    assert (addendum.agreement, addendum.due_on) == (signed, NEXT)
    assert addendum.due_before == date.fromisoformat(signed.facts["due_on"])
    queue_papers_of(loans)
    call_command("work", "--once")
    addendum.refresh_from_db()
    signed.refresh_from_db()
    assert signed.pdf_sha256 == before
    data = content(addendum.pdf)
    assert hashlib.sha256(data).hexdigest() == addendum.pdf_sha256
    with pypdfium2.PdfDocument(data) as document:
        text = document[0].get_textpage().get_text_range()
    assert all(words in text for words in ("September 14, 2027", signed.names["student"], before[:20])), text
    assert not due_papers().exists()
    assert differences()[1] == []
    assert list(file_differences()) == []


@pytest.mark.django_db
def test_an_addendum_goes_with_the_papers_and_keeps_its_hash():
    signed = make_agreement()
    addendum = make_addendum(signed.loan)
    assert delete_papers(agreement=signed, actor=signed.loan.actor, at=NOW, even_if_out=True) == 3
    addendum.refresh_from_db()
    assert (addendum.pdf.name, len(addendum.pdf_sha256)) == ("", 64)
    assert differences()[1] == []
