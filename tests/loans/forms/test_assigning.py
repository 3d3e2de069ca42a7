import pytest

from loans.forms.assigning import AssignmentForm, LineForm, choice_words
from loans.selectors.assigning import choices_for
from tests.factories import TODAY, make_ready_instrument, make_school
from tests.loans.makers import make_assignment, make_seat

pytestmark = pytest.mark.django_db


def test_the_choice_of_a_line_says_what_speaks_against_each(school):
    for _ in range(2):
        make_seat(school=school, kind_code="trumpet")
        make_ready_instrument(school=school)
    assignment = make_assignment(school=school)
    mine, theirs = assignment.lines.order_by("pk")
    choices = choices_for(mine, today=TODAY)
    assert [choice_words(one) for one in choices] == [
        f"{mine.instrument.asset_number} · may go out",
        f"{theirs.instrument.asset_number} · may go out · planned for {theirs.student}",
    ]
    assert choice_words(choices[0] | {"is_excluded": True}).endswith("· left out")
    form = LineForm({"seen": 1, "instrument": str(theirs.instrument_id)}, line=mine, choices=choices)
    assert form.is_valid()
    assert form.chosen() == theirs.instrument
    empty = LineForm({"seen": 1, "instrument": ""}, line=mine, choices=choices)
    assert empty.is_valid()
    assert empty.chosen() is None


def test_only_the_schools_own_instruments_are_taken(school):
    elsewhere = make_ready_instrument(school=make_school())
    assert not AssignmentForm({"seen": 1, "instrument": elsewhere.pk}, school=school).is_valid()
