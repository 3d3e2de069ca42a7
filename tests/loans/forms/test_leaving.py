"""What becomes of each grade, as typed."""

from __future__ import annotations

import pytest

from loans.forms.leaving import RollGradesForm
from loans.selectors.grades import grade_lines
from tests.factories import TODAY, make_school, make_student


@pytest.mark.django_db
def test_each_grade_has_what_it_can_become_and_the_usual_first():
    school = make_school()
    for grade in ("7", "8", "12", "Band"):
        make_student(school=school, grade=grade)
    form = RollGradesForm(lines=grade_lines(school), left_on=TODAY)
    offered = [(len(form.fields[f"step-{at}"].choices), form[f"step-{at}"].value()) for at in range(4)]
    assert offered == [(3, "8"), (3, "9"), (2, "leaves"), (2, "stays")]
    typed = {
        "seen": "nonsense",
        "left_on": "2026-05-29",
        "step-0": "8",
        "step-1": "leaves",
        "step-2": "stays",
        "step-3": "stays",
    }
    sent = RollGradesForm(typed, lines=grade_lines(school), left_on=TODAY)
    assert sent.is_valid()
    assert (sent.cleaned_data["seen"], sent.steps()) == ({}, {"7": "8", "8": ""})
