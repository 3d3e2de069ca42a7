import pytest
from django.db import IntegrityError, transaction

from loans.models import Assignment, AssignmentLine
from tests.loans.makers import make_assignment

pytestmark = pytest.mark.django_db


def test_words_and_keys_of_an_assignment(school):
    assignment = make_assignment(school=school)
    line = assignment.lines.get()
    assert (str(assignment), assignment.is_open) == (f"assignment {assignment.pk}", True)
    assert str(line) == f"line {line.pk} of assignment {assignment.pk}"
    assert (line.kind_name, line.key) == ("Trumpet", f"{line.student_id}:trumpet")
    assert line.facts == {"line": line.pk, "student": line.student_id, "instrument": line.instrument_id}


@pytest.mark.parametrize("wrong", ["two locked at a school", "a student twice", "an instrument twice"])
def test_the_database_refuses_what_would_be_two_answers(school, wrong):
    first, second = make_assignment(school=school), make_assignment(school=school)
    line = first.lines.get()
    Assignment.objects.filter(pk=first.pk).update(state="locked")
    twice = AssignmentLine(assignment=first, student=line.student, kind_code="trumpet")
    given = AssignmentLine(assignment=first, student=line.student, kind_code="tuba", instrument=line.instrument)
    second.state = "locked"
    rows = {"two locked at a school": second, "a student twice": twice, "an instrument twice": given}
    with pytest.raises(IntegrityError), transaction.atomic():
        rows[wrong].save()
    assert list(Assignment.objects.locked()) == [first]
