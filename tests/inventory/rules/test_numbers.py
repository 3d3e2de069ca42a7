"""Numbers as they are typed in a hurry."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.numbers import letters_and_digits, number_key


@pytest.mark.parametrize("typed", ["tv19", "TV-0019", "tv 019", "Tv_19", "TV/00019", "tv.19", "TV#19"])
def test_they_all_mean_the_same(typed):
    assert number_key(typed) == "TV19"
    assert letters_and_digits(typed) == ("TV", "19")


@pytest.mark.parametrize("typed", ["tv190", "tv109", "tw19", "19", "tv", "tv1-9"])
def test_another_number_is_another(typed):
    assert number_key(typed) != "TV19"


@pytest.mark.parametrize("typed", ["", "19", "tv", "19tv", "t1v9", "%", "\x00", "0"])
def test_only_letters_followed_by_digits_are_looked_up_so(typed):
    assert letters_and_digits(typed) == ("", "")


@given(
    st.from_regex(r"[A-Z]{1,4}", fullmatch=True),
    st.integers(0, 99_999),
    st.sampled_from(["", "-", " "]),
    st.integers(1, 8),
)
def test_zeros_and_signs_make_no_difference(letters, number, sign, width):
    assert letters_and_digits(f"{letters.lower()}{sign}{number:0{width}d}") == (letters, str(number))
