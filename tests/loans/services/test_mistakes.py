"""A mistake is undone: nobody's history has it, the log has both acts, and only what left the room is to be cleaned."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.exceptions import InstrumentUnavailableError
from inventory.models import Custody, Instrument, Whereabouts
from loans.exceptions import AlreadyReturnedError, StudentRefusedError
from loans.models import Agreement, Loan, Student
from loans.selectors.lending import loans_of, open_loan_of, went_on_as
from loans.services import change_due_dates, lend_to_right_student, renew_loan, return_loan, undo_loan, undo_renewal
from tests.contests import at_once, went_well
from tests.factories import NOW, make_ready_instrument, make_student, new_nonce
from tests.loans.makers import all_back, make_agreement, make_loan, make_return_walk, refused
from tests.opening import differences

LATER = NOW + timedelta(minutes=1)


@pytest.mark.django_db
@pytest.mark.parametrize("left_the_room", [False, True])
def test_an_undone_loan_counts_as_never_lent(left_the_room):
    student = make_student()
    Student.objects.filter(pk=student.pk).update(wants_kind="trumpet")
    loan = make_loan(instrument=make_ready_instrument(school=student.school), student=student)
    undo_loan(loan=loan, left_the_room=left_the_room, actor=loan.actor, at=LATER)
    row = Instrument.objects.get(pk=loan.instrument_id)
    assert (row.whereabouts, row.is_hygiene_due) == (Whereabouts.IN_STORE, left_the_room)
    assert (open_loan_of(row), list(loans_of(student))) == (None, [])
    assert Student.objects.get(pk=student.pk).wants_kind == "trumpet"
    spans = Custody.objects.filter(instrument=row, whereabouts=Whereabouts.WITH_STUDENT)
    assert [span.undone_at is None for span in spans] == [left_the_room]
    acts = list(Event.objects.filter(subject_type="loans.loan").order_by("number").values_list("act", flat=True))
    assert acts == ["lent", "loan_undone"]
    again = make_loan(instrument=row, student=student, at=LATER + timedelta(minutes=1)) if not left_the_room else None
    assert again is None or again.pk != loan.pk
    assert differences()[1] == []


@pytest.mark.django_db
def test_what_is_back_is_not_undone():
    loan = make_loan()
    return_loan(
        loan=loan,
        taken_back=make_return_walk(loan),
        accessories_back=all_back(loan),
        actor=loan.actor,
        at=NOW + timedelta(days=100),
    )
    with pytest.raises(AlreadyReturnedError, match="already closed"):
        undo_loan(loan=loan, left_the_room=False, actor=loan.actor, at=NOW + timedelta(days=101))
    assert Loan.objects.get().undone_at is None


@pytest.mark.django_db
def test_the_right_student_gets_the_same_and_signs_anew():
    loan = make_loan()
    make_agreement(loan)
    right, nonce = make_student(school=loan.school), new_nonce()
    with pytest.raises(StudentRefusedError, match="Choose another"):
        lend_to_right_student(loan=loan, student=loan.student, actor=loan.actor, at=LATER, nonce=new_nonce())
    first, twice = (
        lend_to_right_student(loan=loan, student=right, actor=loan.actor, at=LATER, nonce=nonce) for _ in range(2)
    )
    assert first == twice
    assert (first.student, first.due_on, first.hand_out_id) == (right, loan.due_on, loan.hand_out_id)
    assert all_back(first) == all_back(loan)
    assert not Agreement.objects.filter(loan=first).exists()
    assert list(loans_of(loan.student)) == []
    assert not Instrument.objects.get(pk=loan.instrument_id).is_hygiene_due
    assert [one for one in differences()[1] if "paper" not in one] == []


@pytest.mark.django_db
def test_of_a_chain_of_renewals_the_last_is_undone_and_the_term_before_goes_on_as_it_was():
    first = make_loan()
    make_agreement(first)
    who = {"actor": first.actor}

    def renew(loan, days):
        due_on = loan.due_on + timedelta(days=100)
        return renew_loan(loan=loan, due_on=due_on, at=NOW + timedelta(days=days), nonce=new_nonce(), **who)

    second = renew(first, 30)
    change_due_dates(loans=[second], due_on=second.due_on + timedelta(days=7), at=NOW + timedelta(days=31), **who)
    as_it_was = Loan.objects.filter(pk=second.pk).values().get()
    third = renew(second, 60)
    at = NOW + timedelta(days=61)
    for wrong in (first, second):
        refused(undo_renewal, AlreadyReturnedError, loan=wrong, at=at, **who)
    refused(undo_loan, AlreadyReturnedError, loan=third, left_the_room=True, at=at, **who)
    Instrument.objects.filter(pk=third.instrument_id).update(whereabouts=Whereabouts.NOT_FOUND)
    refused(undo_renewal, InstrumentUnavailableError, loan=third, at=at, **who)
    Instrument.objects.filter(pk=third.instrument_id).update(whereabouts=Whereabouts.WITH_STUDENT)

    assert undo_renewal(loan=third, at=at, **who) == second
    assert Loan.objects.filter(pk=second.pk).values().get() == as_it_was
    third.refresh_from_db()
    assert (third.undone_at, third.undone_by, third.returned_at) == (at, first.actor, None)
    assert list(loans_of(first.student)) == [second, first]
    last = Event.objects.filter(subject_type="loans.loan").order_by("-number")[:2]
    assert [(one.act, one.subject_id, one.after) for one in last] == [
        ("renewal_undone", str(second.pk), {"loan": third.pk}),
        ("loan_undone", str(third.pk), {"loan": second.pk}),
    ]
    assert {one.at for one in last} == {at}, "one act"
    assert [one for one in differences()[1] if "paper" not in one] == []
    refused(undo_renewal, AlreadyReturnedError, loan=third, at=at, **who)

    again = renew(second, 62)
    undo_renewal(loan=again, at=NOW + timedelta(days=63), **who)
    assert undo_renewal(loan=second, at=NOW + timedelta(days=64), **who) == first
    assert open_loan_of(first.instrument) == first
    refused(undo_renewal, AlreadyReturnedError, loan=first, at=at, **who)
    undo_loan(loan=first, left_the_room=False, at=NOW + timedelta(days=65), **who)
    undone = {loan: Loan.objects.get(pk=loan.pk) for loan in (first, second, third, again)}
    went_on = {loan: went_on_as(row) for loan, row in undone.items()}
    assert went_on == {first: None, second: first, third: second, again: second}
    assert [one for one in differences()[1] if "paper" not in one] == []


@pytest.mark.django_db(transaction=True)
def test_undone_and_taken_back_at_once_is_one_of_both():
    loan = make_loan()
    walk = make_return_walk(loan, at=LATER)
    answers = at_once(
        lambda: undo_loan(loan=loan, left_the_room=True, actor=loan.actor, at=LATER),
        lambda: return_loan(loan=loan, taken_back=walk, accessories_back=all_back(loan), actor=loan.actor, at=LATER),
    )
    assert len(went_well(answers)) == 1
    row = Loan.objects.get()
    assert (row.undone_at is None) != (row.returned_at is None)
    assert differences()[1] == []
