"""What a row says, in the words of the register."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.rules.intake.fit import fit_options, notes_of
from inventory.rules.intake.values import IntakeValues


@dataclass(frozen=True)
class Option:
    code: str
    choices: tuple[str, ...]
    default: str


VALVES = Option("valves", ("3", "4"), "3")
SIZE = Option("size", ("3/4", "4/4"), "4/4")


def test_a_choice_that_the_kind_offers_is_taken():
    fit = fit_options(IntakeValues(size="3/4", valves=4), options=[VALVES, SIZE], key="BBb")
    assert (fit.options, fit.left) == ({"valves": "4", "size": "3/4"}, ())


def test_what_no_option_offers_goes_to_the_notes_and_the_default_stands():
    fit = fit_options(IntakeValues(size="7/8", valves=5, key="C"), options=[VALVES, SIZE], key="BBb")
    assert fit.options == {"valves": "3", "size": "4/4"}
    assert fit.left == ("Size: 7/8", "Valves: 5", "Key: C")


def test_the_kinds_own_key_says_nothing_new():
    assert fit_options(IntakeValues(key="Bb"), options=[], key="Bb").left == ()


def test_notes_hold_condition_and_accessories_as_the_list_had_them():
    values = IntakeValues(notes="Red tape.", condition="fair", accessories=("case", "mouthpiece"))
    assert notes_of(values, left=["Size: 7/8"], most=1000) == (
        "Red tape.\nSize: 7/8\nCondition in the list: fair\nAccessories in the list: case, mouthpiece"
    )


def test_notes_are_cut_to_what_the_register_keeps():
    assert notes_of(IntakeValues(notes="x" * 50), left=(), most=10) == "xxxxxxxxx…"
