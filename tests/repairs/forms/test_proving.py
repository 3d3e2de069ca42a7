from __future__ import annotations

from repairs.forms.proving import GiveUpForm, ProveForm
from repairs.pages.proving import Recheck

AGAIN = Recheck(
    code="solder", fault="solder_broken", fault_name="broken joint", place="", where="", after="Free it",
    parts=(("bell", "bell"), ("brace", "brace")), test="", accept="",
)  # fmt: skip


def form(**data):
    return ProveForm(data, notes=("C4", "D4"), rechecks=(AGAIN,))


def test_everything_said_is_enough():
    assert form(is_looked_at="on", result="pass").is_valid()


def test_what_is_found_again_needs_no_result():
    made = form(again_solder="on", bad_solder="severe", at_solder="brace")
    assert made.is_valid()
    assert made.found_again() == [{"part": "brace", "place": "", "fault": "solder_broken", "severity": "severe"}]


def test_a_part_where_it_cannot_be_is_refused():
    assert "at_solder" in form(again_solder="on", bad_solder="severe", at_solder="case").errors


def test_rechecks_must_be_looked_at():
    assert "is_looked_at" in form(result="pass").errors


def test_a_fail_names_its_notes_or_says_why():
    assert "note" in form(is_looked_at="on", result="fail").errors
    assert form(is_looked_at="on", result="fail", failed_notes=["D4"]).is_valid()


def test_giving_up_needs_words():
    assert not GiveUpForm({"because": " "}).is_valid()
