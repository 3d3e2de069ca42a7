"""Keys from a request: what is none finds nothing, and fails in neither database."""

from __future__ import annotations

import pytest

from core.keys import key_of, keys_of
from core.models import User


@pytest.mark.pure
def test_only_digits_that_a_column_can_hold_are_a_key():
    sent = ["7", "0012", "9" * 18, "", "-1", "1.5", "²", "x", "9" * 19, "9" * 10_000]
    assert [key_of(text) for text in sent] == [7, 12, 10**18 - 1] + [None] * 7
    assert keys_of(sent) == [7, 12, 10**18 - 1]


@pytest.mark.django_db
def test_the_largest_key_finds_nothing(director):
    keys = keys_of([str(director.pk), "9" * 18])
    assert list(User.objects.filter(pk__in=keys)) == [director]
    assert not User.objects.filter(pk=keys[1]).exists()
