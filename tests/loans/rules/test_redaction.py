"""Names in sentences. The cases are our own; no source is known."""

from __future__ import annotations

import sys
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loans.rules import redaction
from loans.rules.redaction import REDACTED, SMALL, key_of, redaction_for

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


@pytest.mark.parametrize("name", ["Rosa García-López", "Rosa García López", "García-López, Rosa"])
@pytest.mark.parametrize(
    "written",
    [
        "Rosa García-López", "Rosa García López", "Rosa García", "rosa lopez", "López, Rosa", "GARCIA LOPEZ, ROSA",
        "R. López", "R. García-López", "Rosa G.", "Rosa G. López", "rosa_garcía-lopez", "rosagarcia", "LopezRosa",
    ],
)  # fmt: skip
def test_each_half_of_a_double_surname_names_with_the_given_name(name, written):
    look = redaction_for(names=[name])
    assert look.redact(f"Horn of {written} 2026") == f"Horn of {REDACTED} 2026"


@pytest.mark.parametrize("half", ["García", "López", "García-López", "lopez", "Rosa"])
def test_a_half_alone_is_only_redacted_when_somebody_says_it_is_meant(half):
    look = redaction_for(names=["Rosa García-López"])
    text = f"{half}'s case"
    assert not look.is_named_in(text)
    assert look.may_be_named_in(text)
    assert look.redact(text, with_possible=True) == f"{REDACTED}'s case"


@pytest.mark.parametrize("text", ["la rosa de plata", "Rosa de ensueño", "a long way", "the R. key", "R. G. key"])
def test_small_words_and_initials_alone_name_nobody(text):
    look = redaction_for(names=["Rosa de la Garza"])
    assert look.redact(text) == text


@pytest.mark.parametrize(
    ("file", "left"),
    [
        ("rosa_lindqvist.csv", f"{REDACTED}.csv"),
        ("2026-Lindqvist-Rosa-horns.xlsx", f"2026-{REDACTED}-horns.xlsx"),
        ("RosaLindqvist2.csv", f"{REDACTED}2.csv"),
        ("lindqvist.csv", "lindqvist.csv"),
    ],
)
def test_names_of_files(file, left):
    assert redaction_for(names=["Rosa Lindqvist"]).redact(file) == left


def test_names_in_other_scripts():
    look = redaction_for(names=["प्रिया शर्मा", "Анна Лебедева"])
    assert look.redact("शर्मा, प्रिया dropped it") == f"{REDACTED} dropped it"
    assert look.redact("А. ЛЕБЕДЕВА dropped it") == f"{REDACTED} dropped it"


WORDS = st.text("abcdeéxyzñ", min_size=2, max_size=6).filter(lambda word: key_of(word) not in SMALL)
NAMES = st.lists(WORDS, min_size=2, max_size=5, unique_by=key_of)
PARTS = st.sampled_from([" ", "-", "_", ", ", ". ", "  ", "\t"])
TEXTS = st.text("abcdeéxyzñ ABC.,-_'12()\n", max_size=60)


@given(words=NAMES, data=st.data(), before=TEXTS, after=TEXTS)
def test_given_name_and_surname_are_found_however_they_are_written_and_wherever(words, data, before, after):
    first, *others = words
    pair = [first, data.draw(st.sampled_from(others))]
    written = data.draw(PARTS).join(data.draw(st.permutations(pair)))
    written = data.draw(st.sampled_from([str, str.upper, str.title, lambda text: unicodedata.normalize("NFD", text)]))(
        written
    )
    look = redaction_for(names=[data.draw(st.sampled_from([" ", "  "])).join([first, data.draw(PARTS).join(others)])])
    text = f"{before} ({written}) {after}"
    assert look.is_named_in(text)
    left = look.redact(text)
    assert f"({unicodedata.normalize('NFC', written)})" not in left
    assert not look.is_named_in(left)


@given(words=NAMES, text=TEXTS)
def test_a_text_without_a_word_of_the_name_stays(words, text):
    look = redaction_for(names=[" ".join(words)])
    if not any(key_of(word)[0] in key_of(text) for word in words):
        assert look.redact(text, with_possible=True) == text


@given(name=TEXTS, text=TEXTS)
def test_whatever_the_name_it_is_taken_out_at_once_and_for_good(name, text):
    look = redaction_for(names=[name], contacts=[name], nicknames=[name])
    left = look.redact(text, with_possible=True)
    assert not look.is_named_in(left)
    assert not look.may_be_named_in(left)


def steps(name: str, text: str) -> int:
    """Lines of the module that are carried out to take a name out of a text, those that build the patterns included."""
    count = 0

    def line(_frame, event, _arg):
        nonlocal count
        count += event == "line"
        return line

    def call(frame, _event, _arg):
        return line if frame.f_code.co_filename == redaction.__file__ else None

    before = sys.gettrace()
    sys.settrace(call)
    try:
        redaction_for(names=[name]).redact(text, with_possible=True)
    finally:
        sys.settrace(before)
    return count


@pytest.mark.parametrize(
    ("name", "text"),
    [("ana " * 22, "ana "), ("ana " * 21 + "ruiz", "ana "), ("ana ruiz", "ana ana-ruiz, a. "), ("a b", "a.")],
)
def test_the_steps_grow_with_the_text_alone(name, text):
    short, long = steps(name, text * 100), steps(name, text * 1000)
    assert long < short * 11
    assert steps(f"{name} {name}", text * 100) < short * 1.2  # a name that says everything twice
