from __future__ import annotations

import pytest

from desk.pages import fitting
from desk.pages.fitting import fit_at, suit
from desk.selectors.fitting import kind_for, loans_by_student, play_test_limits, ready_instruments, students_by_level
from inventory.models import Instrument
from inventory.selectors.standing import standing_of, standings_of
from inventory.services.care import record_play_test
from tests.factories import NOW, TODAY, make_inspection, make_instrument, make_ready_instrument, make_student
from tests.loans.makers import make_loan

# Low C, the bottom of a flute: outside the first-year range, inside the concert band's.
LOW_PAD = ("foot_keys", "pad_leak", "severe", "low_C_pad")


STUCK_SLIDE = ("main_tuning_slide", "slide_seized", "severe", "", "pulled 0 mm")


def who_page(instrument, *, whole=""):
    return fitting.who_page(
        instrument,
        standing=standing_of(instrument),
        by_level=students_by_level(instrument.school),
        on_loan=loans_by_student(instrument.school),
        play_limits=play_test_limits(instrument),
        may_go=True,
        whole=whole,
    )


def suits_page(student, *, kind):
    ready, kind = ready_instruments(student.school, today=TODAY), kind_for(student, wanted=kind)
    standings = standings_of([row for row in ready if row.kind_code == kind])
    return fitting.suits_page(student, ready=ready, kind=kind, standings=standings)


def limited_flute(school) -> Instrument:
    instrument = make_instrument(school=school, kind_code="flute")
    make_inspection(instrument=instrument, findings=[LOW_PAD])
    return Instrument.objects.get(pk=instrument.pk)


def test_levels_it_suits_come_first(school):
    instrument = limited_flute(school)
    make_student(school=school, name="Alto", level="concert")
    make_student(school=school, name="Bari", level="first_year")
    page = who_page(instrument)
    assert [(group["level"], group["is_enough"]) for group in page["groups"]] == [
        ("first_year", True),
        ("concert", False),
    ]
    assert page["groups"][0]["fit"].words == "no notes missed"
    assert page["groups"][1]["fit"].words == "loses C4"


def test_what_does_not_play_is_fit_for_nobody_yet_and_its_limits_are_not_told(school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("leadpipe", "foreign_object", "severe"), STUCK_SLIDE])
    record_play_test(instrument=instrument, result="limits", limits_text="Thin on top.", actor=tech, at=NOW)
    make_student(school=school)
    page = who_page(Instrument.objects.get(pk=instrument.pk))
    assert (page["plays"], page["fits"], page["play_limits"], page["everybody"]) == (False, (), "", ())
    assert page["groups"][0]["fit"] is None


def test_within_a_level_those_without_such_an_instrument_come_first(school):
    loan = make_loan(school=school)  # a trumpet is out
    other = make_student(school=school, name="Zither", level=loan.student.level)
    page = who_page(make_ready_instrument(school=school))
    players = page["groups"][0]["players"]
    assert [player["student"].pk for player in players] == [other.pk, loan.student_id]
    assert players[1]["has"] == (f"{loan.instrument.asset_number} Trumpet",)
    assert page["groups"][0]["waiting"] == 1


def test_of_a_large_level_the_first_are_named_unless_all_are_asked_for(school, monkeypatch):
    monkeypatch.setattr(fitting, "SHOWN", 2)
    loan = make_loan(school=school)
    others = [make_student(school=school, name=name, level=loan.student.level) for name in ("Xavi", "Yann", "Zoe")]
    instrument = make_ready_instrument(school=school)
    (group,) = who_page(instrument)["groups"]
    assert [player["student"].name for player in group["players"]] == ["Xavi", "Yann"]
    assert (group["count"], group["waiting"]) == (4, 3)
    (group,) = who_page(instrument, whole=loan.student.level)["groups"]
    assert [player["student"].pk for player in group["players"]] == [*(one.pk for one in others), loan.student_id]


def test_a_level_that_the_kind_states_no_range_for_uses_the_first_year_range(school):
    reports = standing_of(limited_flute(school)).reports
    fit, is_stated = fit_at(reports, "no_such_level")
    assert fit.level == "first_year"
    assert not is_stated


def test_limits_from_a_play_test_are_shown_beside_the_levels(school, tech):
    instrument = make_ready_instrument(school=school)
    record_play_test(instrument=instrument, result="limits", limits_text="Thin on top.", actor=tech, at=NOW)
    assert who_page(instrument)["play_limits"] == "Thin on top."


def test_an_instrument_whose_limits_do_not_affect_the_student_comes_before_a_sound_one(school):
    sound = make_ready_instrument(school=school, kind_code="flute")
    limited = limited_flute(school)
    beginner = make_student(school=school, level="first_year")
    page = suits_page(beginner, kind="flute")
    assert [one["instrument"] for one in page["suits"]] == [limited, sound]
    assert page["suits"][0]["words"] == "Its limits do not affect this student's notes."
    assert page["hurting"] == []


def test_an_instrument_on_which_the_student_would_miss_notes_is_listed_apart(school):
    limited = limited_flute(school)
    player = make_student(school=school, level="concert")
    page = suits_page(player, kind="flute")
    assert page["suits"] == []
    assert [(one["instrument"], one["words"]) for one in page["hurting"]] == [(limited, "This student loses C4.")]


def test_instruments_of_other_schools_and_those_that_stay_in_are_not_offered(school):
    make_ready_instrument(kind_code="flute")
    make_instrument(school=school, kind_code="flute")
    page = suits_page(make_student(school=school), kind="flute")
    assert (page["kinds"], page["suits"], page["hurting"]) == ([], [], [])


def test_a_kind_without_notes_suits_by_what_it_does(school):
    drum = make_ready_instrument(school=school, kind_code="snare_kit")
    assert suit(drum, None)["words"] == "No limits."


@pytest.mark.parametrize("count", [1, 12])
def test_twelve_instruments_and_students_cost_as_many_queries_as_one(school, django_assert_max_num_queries, count):
    students = [make_student(school=school) for _ in range(count)]
    instruments = [make_ready_instrument(school=school) for _ in range(count)]
    with django_assert_max_num_queries(5):
        who_page(instruments[0])
    with django_assert_max_num_queries(3):
        suits_page(students[0], kind="trumpet")
