"""Codes against every slip of one character and every swap of neighbors, by brute force."""

from __future__ import annotations

import random

import pytest

from loans.rules.codes import LENGTH, LETTERS, code_in, in_groups, new_code


@pytest.fixture(params=range(5))
def code(request):
    return new_code(random.Random(request.param).choice)


def test_every_wrong_character_is_noticed(code):
    for at in range(LENGTH):
        for letter in LETTERS:
            slip = code[:at] + letter + code[at + 1 :]
            assert code_in(slip) == (code if slip == code else "")


def test_every_swap_of_neighbors_is_noticed(code):
    for at in range(LENGTH - 2):
        swapped = code[:at] + code[at + 1] + code[at] + code[at + 2 :]
        assert code_in(swapped) == (code if swapped == code else "")


def test_it_is_found_as_typed_and_as_scanned(code):
    for text in (
        in_groups(code),
        in_groups(code).lower(),
        f" {code} ",
        f"HTTPS://HORNS.EXAMPLE/P/{code}",
        f"/p/{code}/",
    ):
        assert code_in(text) == code


@pytest.mark.parametrize("text", ["", "ABCD", "O" * LENGTH, "ABCD-23455", "é" * LENGTH, "\u0662" * LENGTH])
def test_what_is_no_code_is_none(text):
    assert code_in(text) == ""
