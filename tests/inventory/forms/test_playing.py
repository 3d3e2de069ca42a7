from __future__ import annotations

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.forms.playing import PlayTestForm

NOTES = ["C4", "D4", "E4"]


def form_of(**told: object) -> PlayTestForm:
    return PlayTestForm({"result": "pass"} | told, notes=NOTES)


def test_typed_cents_and_heard_cents_come_together_in_the_order_of_the_notes():
    heard = json.dumps([{"written": "E4", "cents": 2.04, "spread": 0.5, "tries": 2, "spoke": True}])
    form = form_of(**{"measures": heard, "cents-C4": "-7", "cents-E4": "2.0"})
    assert form.is_valid()
    assert [(row["written"], row["cents"], row["tries"]) for row in form.facts["measures"]] == [
        ("C4", -7.0, 1),
        ("E4", 2.0, 2),
    ]


def test_a_figure_typed_over_what_was_heard_stands():
    heard = json.dumps([{"written": "E4", "cents": 2.0, "spread": 0.5, "tries": 2, "spoke": True}])
    form = form_of(**{"measures": heard, "cents-E4": "30"})
    assert form.is_valid()
    assert form.facts["measures"][0]["cents"] == 30.0


def test_a_failed_note_did_not_speak():
    form = form_of(**{"result": "fail", "state-D4": "failed", "state-E4": "weak"})
    assert form.is_valid()
    assert (form.facts["failed_notes"], form.facts["weak_notes"]) == (["D4"], ["E4"])
    assert form.facts["measures"] == [{"written": "D4", "cents": None, "spread": None, "tries": 1, "spoke": False}]


@pytest.mark.parametrize(
    ("degrees", "unit", "celsius"),
    [("68", "F", "20.0"), ("32", "F", "0.0"), ("98.6", "F", "37.0"), ("21.5", "C", "21.5"), ("", "F", None)],
)
def test_the_room_is_kept_in_degrees_celsius(degrees, unit, celsius):
    form = form_of(room_degrees=degrees, room_unit=unit)
    assert form.is_valid()
    assert form.facts["room_celsius"] == (None if celsius is None else Decimal(celsius))


@pytest.mark.parametrize("degrees", ["-21", "131", "warm", "1e9"])
def test_a_room_nobody_plays_in_is_refused(degrees):
    assert not form_of(room_degrees=degrees).is_valid()


BAD = [
    "{", "5", '"C4"', "[5]", '[{"written": "X4"}]', '[{"written": "C4", "cents": "high"}]', '[{"written": "C4", "cents": true}]',
    '[{"written": "C4", "cents": NaN}]', '[{"written": "C4", "cents": 5000}]', '[{"written": "C4", "tries": -1}]',
    '[{"written": "C4", "tries": 1.5}]', "[" * 5000, "9" * 5000, '[{"written":"C4"},{"written":"C4"},{"written":"C4"},{"written":"C4"}]',
]  # fmt: skip


@pytest.mark.parametrize("measures", BAD, ids=range(len(BAD)))
def test_measures_that_are_none_are_refused(measures):
    assert form_of(measures=measures).errors["measures"]


@given(st.text(max_size=200))
def test_no_text_in_place_of_measures_breaks_the_form(text):
    form_of(measures=text).is_valid()


def test_passing_with_failed_notes_contradicts_itself():
    assert form_of(**{"state-C4": "failed"}).errors["result"]


def test_a_fail_may_be_for_notes_that_are_weak():
    assert form_of(**{"result": "fail", "state-C4": "weak"}).is_valid()


def test_of_the_notes_listed_all_but_those_marked_count_as_played():
    told = {"result": "limits", "limits_text": "low", "state-C4": "untried", "state-E4": "weak"}
    form = PlayTestForm(told, notes=NOTES, listed=["C4", "D4"])
    assert form.is_valid()
    assert form.facts["tried_notes"] == ["D4", "E4"]


def test_a_note_with_a_figure_was_played():
    form = form_of(**{"state-C4": "untried", "cents-C4": "3"})
    assert form.is_valid()
    assert form.facts["tried_notes"] == ["C4"]


def test_a_test_in_which_nothing_was_played_is_refused():
    untried = {f"state-{name}": "untried" for name in NOTES}
    for told in ({}, {"result": "fail", "note": "It would not speak."}):
        form = PlayTestForm({"result": "pass"} | untried | told, notes=NOTES, listed=NOTES)
        assert not form.is_valid()
        assert "No note is marked as played" in str(form.errors)
    assert PlayTestForm({"result": "pass"} | untried | {"state-C4": "weak"}, notes=NOTES, listed=NOTES).is_valid()
    assert PlayTestForm({"result": "pass"}, notes=[], listed=[]).is_valid()  # a drum has no list of notes


def test_where_the_slide_stood_and_that_it_was_tuned_first_are_kept():
    form = form_of(slide_mm="12.5", is_tuned_first="on")
    assert form.is_valid()
    assert (form.facts["slide_mm"], form.facts["is_tuned_first"]) == (Decimal("12.5"), True)
    assert not form_of(slide_mm="201").is_valid()
