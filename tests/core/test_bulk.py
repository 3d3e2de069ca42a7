"""Many rows at once are the same rows as one by one."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from core.bulk import insert_rows, reserve_keys, rows_of
from core.models import User

pytestmark = pytest.mark.django_db


def make_people(*names: str) -> list[User]:
    return [User(username=name, name=name.title()) for name in names]


def test_rows_written_at_once_read_back_as_they_were():
    people = make_people("ada", "bo")
    insert_rows(User, rows_of(people, model=User))
    assert list(User.objects.order_by("username").values_list("username", "name", "is_active")) == [
        ("ada", "Ada", True),
        ("bo", "Bo", True),
    ]


def test_reserved_keys_are_nobody_elses():
    before = User.objects.create(username="first").pk
    keys = reserve_keys(User, count=3)
    after = User.objects.create(username="last").pk
    assert len(set(keys)) == 3
    assert min(keys) > before
    assert after > max(keys)
    people = make_people("a", "b", "c")
    for one, key in zip(people, keys, strict=True):
        one.pk = key
    insert_rows(User, rows_of(people, model=User, with_key=True), with_key=True)
    assert User.objects.get(pk=keys[1]).username == "b"


def test_keys_of_a_table_that_never_held_a_row_can_be_reserved():
    keys = reserve_keys(User, count=2)
    assert User.objects.create(username="next").pk > max(keys)


def test_a_repeated_value_is_refused_and_nothing_of_the_transaction_stays():
    with pytest.raises(IntegrityError), transaction.atomic():
        insert_rows(User, rows_of(make_people("same", "same"), model=User))
    assert not User.objects.exists()
