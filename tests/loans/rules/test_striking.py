"""Names in sentences. The cases are our own; no source is known."""

from __future__ import annotations

import unicodedata

import pytest

from loans.rules.striking import STRUCK, striking

ROSA = striking(
    names=["Rosa Maria Lindqvist", "Per Bell"], contacts=["(555) 010-4477 or per.bell@post.example"], nicknames=["Ro"]
)


@pytest.mark.parametrize(
    "text",
    [
        "Rosa Maria Lindqvist dropped it",
        "ROSA LINDQVIST dropped it",
        "Lindqvist, Rosa dropped it",
        "rosa\tlindqvist dropped it",
        "R. Lindqvist dropped it",
        "Rosa L. dropped it",
        "Per Bell dropped it",
        "per.bell@post.example dropped it",
        "555-010-4477 dropped it",
        "5550104477 dropped it",
    ],
)
def test_a_full_name_or_contact_is_struck_in_any_writing(text):
    assert ROSA.is_sure_of(text)
    assert ROSA.strike(text) == f"{STRUCK} dropped it"


def test_a_possessive_keeps_its_ending_and_the_rest_of_the_sentence():
    assert ROSA.strike("In Rosa Lindqvist's case: no mouthpiece.") == f"In {STRUCK}'s case: no mouthpiece."


@pytest.mark.parametrize(
    "text",
    ["a bell kit", "the bell is bent", "Rosalind Lindqvist-Bellamy", "per bellows", "555 0104", "rosary lindqvist"],
)
def test_words_of_the_trade_and_longer_names_stay(text):
    assert not ROSA.is_sure_of(text)
    assert ROSA.strike(text) == text


@pytest.mark.parametrize("text", ["Rosa says it sticks", "the bell is bent", "RO dropped it"])
def test_a_single_word_is_only_struck_when_somebody_says_it_is_meant(text):
    assert ROSA.may_be_meant(text)
    assert ROSA.strike(text) == text
    assert STRUCK in ROSA.strike(text, also_unsure=True)


def test_what_is_struck_for_sure_leaves_no_doubt_behind():
    assert not ROSA.may_be_meant("Rosa Lindqvist dropped it")
    assert not ROSA.may_be_meant("a lost valve cap")


def test_accents_written_in_two_ways_are_the_same_name():
    look = striking(names=["Zoë Núñez"])
    assert look.strike(unicodedata.normalize("NFD", "ZOË NÚÑEZ has it")) == f"{STRUCK} has it"


def test_a_name_with_signs_is_no_pattern():
    look = striking(names=["A+ (B) [C"])
    assert look.strike("aaa b c") == "aaa b c"
    assert look.strike("A+ (B) [C here") == f"{STRUCK} here"


def test_nobody_to_look_for_changes_nothing():
    look = striking(names=["", " "], contacts=[""])
    assert look.strike("Anything at all", also_unsure=True) == "Anything at all"
    assert not look.may_be_meant("Anything")
