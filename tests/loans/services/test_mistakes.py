"""A mistake is undone: nobody's history has it, the log has both acts, and only what left the room is to be cleaned."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event
from inventory.models import Custody, Instrument, Whereabouts
from loans.exceptions import AlreadyReturnedError, StudentRefusedError
from loans.models import Agreement, Loan, Student
from loans.selectors.lending import loans_of, open_loan_of
from loans.services import lend_to_right_student, return_loan, undo_loan
from tests.contests import at_once, went_well
from tests.factories import NOW, make_ready_instrument, make_student, new_nonce
from tests.loans.makers import all_back, make_agreement, make_loan, make_return_walk
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
