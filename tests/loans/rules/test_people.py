"""Names in lists and contacts. The cases are our own; no source is known."""

from __future__ import annotations

import pytest

from loans.rules.people import contact_parts, sort_name_of


@pytest.mark.parametrize(
    ("name", "listed"),
    [
        ("Ana Rivera", "Rivera, Ana"),
        ("Ana  Maria Rivera", "Rivera, Ana Maria"),
        ("Rosa García-López", "García-López, Rosa"),
        ("Robin Reed Jr.", "Reed Jr., Robin"),
        ("Robin Reed III", "Reed III, Robin"),
        ("Rivera, Ana", "Rivera, Ana"),
        ("Cher", "Cher"),
        ("Cher Jr.", "Cher Jr."),
        ("", ""),
    ],
)
def test_the_last_word_is_the_family_name(name, listed):
    assert sort_name_of(name) == listed


@pytest.mark.parametrize(
    ("typed", "column"),
    [
        ("gale@family.example", "email"),
        (" 555-0147 ", "phone"),
        ("(555) 010-4477", "phone"),
        ("+1 555 010 4477 ext. 12", "phone"),
        ("555-0177 gale", "contact"),
        ("555-0147 gale@family.example", "contact"),
        ("gale@home", "contact"),
        ("12 Elm St", "contact"),
        ("911", "contact"),
        ("5" * 41, "contact"),
    ],
)
def test_a_contact_goes_where_it_can_be_used(typed, column):
    assert contact_parts(typed) == {column: typed.strip()}


def test_nothing_typed_is_no_contact():
    assert contact_parts("  ") == {}
