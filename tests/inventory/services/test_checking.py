from __future__ import annotations

import pytest
from django.apps import apps

from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import Room, School
from inventory.services.checking import check_row, constraint_words
from repairs.models import Bench
from tests.factories import NOW, make_room, make_school

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


def test_no_constraint_says_its_name():
    """Its name is a name in the database: whoever meets it reads a sentence instead."""
    kept = [one for model in apps.get_models() for one in model._meta.constraints]
    assert len(kept) > 40
    assert [
        one.name for one in kept if one.name in constraint_words(one) or not constraint_words(one).endswith(".")
    ] == []


def test_what_breaks_a_constraint_is_refused_in_its_words():
    bench = Bench(code="cage", name="Cage", school=make_school(), retired_at=NOW)  # by nobody
    with pytest.raises(RefusedError, match="does not fit together"):
        check_row(bench)
    room = make_room(name="Room 12")
    with pytest.raises(RefusedError, match="The same entry is already there"):
        check_row(Room(school=room.school, name=room.name), validate_unique=False)


def test_what_is_left_out_is_not_complained_of():
    make_school(code="ELM")
    check_row(School(code="ELM", name="Another"), validate_unique=False)
    with pytest.raises(RefusedError):
        check_row(School(code="ELM", name="Another"))
