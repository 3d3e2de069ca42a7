"""Names in sentences. The cases are our own; no source is known."""

from __future__ import annotations

import unicodedata

import pytest

from loans.rules.redaction import REDACTED, redaction_for

ROSA = redaction_for(
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
def test_a_full_name_or_contact_is_redacted_in_any_writing(text):
    assert ROSA.is_named_in(text)
    assert ROSA.redact(text) == f"{REDACTED} dropped it"


def test_a_possessive_keeps_its_ending_and_the_rest_of_the_sentence():
    assert ROSA.redact("In Rosa Lindqvist's case: no mouthpiece.") == f"In {REDACTED}'s case: no mouthpiece."


@pytest.mark.parametrize(
    "text",
    ["a bell kit", "the bell is bent", "Rosalind Lindqvist-Bellamy", "per bellows", "555 0104", "rosary lindqvist"],
)
def test_words_of_the_trade_and_longer_names_stay(text):
    assert not ROSA.is_named_in(text)
    assert ROSA.redact(text) == text


@pytest.mark.parametrize("text", ["Rosa says it sticks", "the bell is bent", "RO dropped it"])
def test_a_single_word_is_only_redacted_when_somebody_says_it_is_meant(text):
    assert ROSA.may_be_named_in(text)
    assert ROSA.redact(text) == text
    assert REDACTED in ROSA.redact(text, with_possible=True)


def test_what_is_redacted_for_sure_leaves_no_doubt_behind():
    assert not ROSA.may_be_named_in("Rosa Lindqvist dropped it")
    assert not ROSA.may_be_named_in("a lost valve cap")


def test_accents_written_in_two_ways_are_the_same_name():
    look = redaction_for(names=["Zoë Núñez"])
    assert look.redact(unicodedata.normalize("NFD", "ZOË NÚÑEZ has it")) == f"{REDACTED} has it"


def test_a_name_with_signs_is_no_pattern():
    look = redaction_for(names=["A+ (B) [C"])
    assert look.redact("aaa b c") == "aaa b c"
    assert look.redact("A+ (B) [C here") == f"{REDACTED} here"


def test_nobody_to_look_for_changes_nothing():
    look = redaction_for(names=["", " "], contacts=[""])
    assert look.redact("Anything at all", with_possible=True) == "Anything at all"
    assert not look.may_be_named_in("Anything")


def test_a_single_letter_is_never_taken_for_a_name():
    look = redaction_for(names=["Rosa L"], nicknames=["B"])
    assert not look.may_be_named_in("the L key and the B key stick")
    assert look.redact("the L key", with_possible=True) == "the L key"
    assert look.may_be_named_in("Rosa's case")
