from __future__ import annotations

import pytest

from desk.selectors.fitting import Suit, fit_at, suits_page, who_page
from inventory.models import Instrument
from inventory.selectors.standing import standing_of
from inventory.services.care import record_play_test
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_ready_instrument, make_student
from tests.loans.makers import make_loan

# Low C, the bottom of a flute: outside the first-year range, inside the concert band's.
LOW_PAD = ("foot_keys", "pad_leak", "severe", "low_C_pad")


def limited_flute(school) -> Instrument:
    horn = make_instrument(school=school, kind_code="flute")
    make_inspection(instrument=horn, findings=[LOW_PAD])
    return Instrument.objects.get(pk=horn.pk)


def test_students_whom_it_does_not_hurt_stand_first(school):
    horn = limited_flute(school)
    make_student(school=school, name="Alto", level="concert")
    make_student(school=school, name="Bari", level="first_year")
    page = who_page(horn, today=TODAY)
    assert [(group.level, group.is_unhurt) for group in page.groups] == [("first_year", True), ("concert", False)]
    assert page.groups[0].fit.words == "hurts nobody"
    assert page.groups[1].fit.words == "loses C4"
    assert page.may_go


def test_within_a_level_those_without_such_a_horn_stand_first(school):
    loan = make_loan(school=school)  # a trumpet is out
    other = make_student(school=school, name="Zither", level=loan.student.level)
    page = who_page(make_ready_instrument(school=school), today=TODAY)
    players = page.groups[0].players
    assert [player.student for player in players] == [other, loan.student]
    assert players[1].has == (f"{loan.instrument.asset_number} Trumpet",)
    assert page.groups[0].waiting == 1


def test_a_level_that_the_kind_states_no_range_for_is_judged_by_the_first_year(school):
    reports = standing_of(limited_flute(school)).reports
    fit, is_stated = fit_at(reports, "no_such_level")
    assert fit.level == "first_year"
    assert not is_stated


def test_what_a_play_test_heard_is_told_beside_the_levels(school, tech):
    horn = make_ready_instrument(school=school)
    record_play_test(instrument=horn, result="limits", limits_text="Thin on top.", actor=tech, at=NOW)
    assert who_page(horn, today=TODAY).heard == "Thin on top."


def test_a_horn_whose_limits_do_not_touch_the_student_is_offered_before_a_sound_one(school):
    sound = make_ready_instrument(school=school, kind_code="flute")
    limited = limited_flute(school)
    beginner = make_student(school=school, level="first_year")
    page = suits_page(beginner, kind="flute", today=TODAY)
    assert [suit.instrument for suit in page.suits] == [limited, sound]
    assert page.suits[0].words == "Its limits touch none of this student's notes."
    assert page.hurting == []


def test_a_horn_that_would_hurt_is_named_apart_with_its_notes(school):
    limited = limited_flute(school)
    player = make_student(school=school, level="concert")
    page = suits_page(player, kind="flute", today=TODAY)
    assert page.suits == []
    assert [(suit.instrument, suit.words) for suit in page.hurting] == [(limited, "This student loses C4.")]


def test_without_a_choice_the_kind_that_the_student_had_last_is_taken(school):
    loan = make_loan(school=school)
    assert suits_page(loan.student, kind="", today=TODAY).kind == loan.instrument.kind_code
    assert suits_page(make_student(school=school), kind="", today=TODAY).kind == ""


def test_an_unknown_kind_counts_as_no_choice(school):
    assert suits_page(make_student(school=school), kind="<b>", today=TODAY).kind == ""


def test_horns_of_other_schools_and_horns_that_stay_in_are_not_offered(school):
    make_ready_instrument(kind_code="flute")
    make_instrument(school=school, kind_code="flute")
    page = suits_page(make_student(school=school), kind="flute", today=TODAY)
    assert (page.kinds, page.suits, page.hurting) == ([], [], [])


def test_a_kind_without_notes_suits_by_what_it_does(school):
    drum = make_ready_instrument(school=school, kind_code="snare_kit")
    assert Suit(instrument=drum, fit=None, is_limited=False).words == "Nothing is in the way."


@pytest.mark.parametrize("count", [1, 12])
def test_twelve_horns_and_students_cost_as_many_queries_as_one(school, django_assert_max_num_queries, count):
    students = [make_student(school=school) for _ in range(count)]
    horns = [make_ready_instrument(school=school) for _ in range(count)]
    with django_assert_max_num_queries(5):
        who_page(horns[0], today=TODAY)
    with django_assert_max_num_queries(3):
        suits_page(students[0], kind="trumpet", today=TODAY)
