from __future__ import annotations

import pytest

from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import School
from inventory.services.checking import check_row
from tests.factories import make_school

pytestmark = pytest.mark.django_db


def test_a_row_that_holds_passes():
    check_row(School(code="ELM", name="Elm Street Middle"))


def test_every_complaint_is_said():
    with pytest.raises(RefusedError) as refused:
        check_row(School(code="elm street", name=""))
    assert "Two to eight capitals or digits." in str(refused.value)
    assert "cannot be blank" in str(refused.value)


def test_each_complaint_stands_under_its_column_where_asked():
    with pytest.raises(RefusedError, match=r"Name: This field cannot be blank\."):
        check_row(School(code="ELM", name=""), names_columns=True)


def test_the_refusal_is_the_one_asked_for():
    with pytest.raises(NumberTakenError):
        check_row(School(code="ELM", name=""), refusal=NumberTakenError)


def test_what_is_left_out_is_not_complained_of():
    make_school(code="ELM")
    check_row(School(code="ELM", name="Another"), validate_unique=False)
    with pytest.raises(RefusedError):
        check_row(School(code="ELM", name="Another"))
