"""A loan by the word of a list."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from loans.models import Loan
from loans.services import Listed, lend_as_listed
from tests.factories import NOW, TODAY, make_director, make_instrument, make_school, make_student, new_nonce
from tests.opening import differences

pytestmark = pytest.mark.django_db


def lend(**changes) -> Loan:
    instrument = changes.pop("instrument", None) or make_instrument()
    told = {
        "instrument": instrument,
        "student": changes.pop("student", None) or make_student(school=instrument.school),
        "since": TODAY - timedelta(days=70),
        "due_on": TODAY + timedelta(days=100),
        "nonce": new_nonce(),
    }
    listed, actor = [Listed(**told | changes)], make_director(instrument.school)
    return lend_as_listed(listed=listed, is_signed_elsewhere=True, actor=actor, at=NOW)[0]


def test_it_is_out_since_that_day_with_no_inspection_and_the_log_agrees():
    loan = lend()
    loan.instrument.refresh_from_db()
    assert (loan.lent_on, loan.hand_out, loan.is_signed_elsewhere) == (TODAY - timedelta(days=70), None, True)
    assert loan.instrument.whereabouts == "with_student"
    assert differences()[1] == []


@pytest.mark.parametrize(
    "change",
    [
        {"since": TODAY + timedelta(days=1)},
        {"since": TODAY - timedelta(days=4000)},
        {"due_on": TODAY - timedelta(days=71)},
        {"due_on": TODAY + timedelta(days=4000)},
    ],
)
def test_days_that_are_not_believed_are_refused(change):
    with pytest.raises(RefusedError):
        lend(**change)
    assert not Loan.objects.exists()


def test_a_student_of_another_school_and_an_instrument_that_is_out_are_refused():
    with pytest.raises(RefusedError, match="another school"):
        lend(student=make_student(school=make_school()))
    loan = lend()
    with pytest.raises(RefusedError):
        lend(instrument=loan.instrument)
