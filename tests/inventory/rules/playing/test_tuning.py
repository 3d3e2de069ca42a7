import math

import pytest

from inventory.rules.playing.reports import TuningRange
from inventory.rules.playing.tuning import narrowest, open_length_mm, pulled_cents
from tests.inventory.rules.cases import make_report


def test_a_trumpet_is_about_147_centimeters_of_air():
    """147.4 cm is the figure brass texts assume for the effective tube of a Bb trumpet (from memory)."""
    assert open_length_mm(fundamental=48, sounds=-2) == pytest.approx(1474, abs=5)


def test_a_free_slide_reaches_pitch_with_room_both_ways():
    tuning = make_report("trumpet").tuning_range
    assert tuning is not None
    assert tuning.can_reach_a440
    assert tuning.stands_cents == 0
    length = open_length_mm(fundamental=48, sounds=-2)
    assert tuning.up_cents == pytest.approx(1200 * math.log2(length / (length - 24)), abs=0.01)
    assert tuning.down_cents == pytest.approx(1200 * math.log2((length + 56) / length), abs=0.01)


@pytest.mark.parametrize("severity", ["moderate", "severe"])
def test_a_slide_seized_fully_in_stands_sharp(severity):
    report = make_report("trumpet", f"main_tuning_slide:slide_seized:{severity}:pulled 0 mm")
    tuning = report.tuning_range
    assert tuning is not None
    assert (tuning.up_cents, tuning.down_cents, tuning.can_reach_a440) == (0, 0, False)
    assert tuning.stands_cents == pytest.approx(28.45, abs=0.1)
    assert report.lost == report.off == ()


def test_a_slide_that_moves_with_a_hard_pull_can_be_tuned():
    """Common practice, no source: what still moves is set before the rehearsal."""
    assert (
        make_report("trumpet", "main_tuning_slide:slide_seized:light").tuning_range
        == make_report("trumpet").tuning_range
    )


def test_a_slide_seized_where_the_instrument_is_in_tune_reaches_pitch_and_nothing_else():
    tuning = make_report("trumpet", "main_tuning_slide:slide_seized:severe:pulled 12 mm").tuning_range
    assert tuning is not None
    assert (tuning.stands_cents, tuning.up_cents, tuning.down_cents, tuning.can_reach_a440) == (0, 0, 0, True)


@pytest.mark.parametrize("code", ["trumpet", "euphonium", "tuba", "horn_single"])
def test_a_slide_seized_nobody_knows_how_far_out_stands_where_the_instrument_was_last_played(code):
    tuning = make_report(code, "main_tuning_slide:slide_seized:severe").tuning_range
    assert tuning is not None
    assert (tuning.stands_cents, tuning.up_cents, tuning.down_cents, tuning.can_reach_a440) == (0, 0, 0, True)


def test_a_double_instrument_tunes_its_sides_when_the_main_slide_is_stuck():
    tuning = make_report("horn_double", "main_tuning_slide:slide_seized:severe").tuning_range
    assert tuning is not None
    assert tuning.down_cents > 0
    assert tuning.can_reach_a440


def test_the_worst_side_speaks_for_the_horn():
    fine = TuningRange(stands_cents=0, up_cents=20, down_cents=40, can_reach_a440=True)
    stuck = TuningRange(stands_cents=25, up_cents=0, down_cents=0, can_reach_a440=False)
    assert narrowest([fine, stuck]) == stuck
    assert narrowest([None, None]) is None


def test_a_clarinet_has_no_main_slide():
    assert make_report("clarinet_bb").tuning_range is None


def test_a_slide_farther_out_than_at_pitch_makes_a_tube_flatter():
    """Own arithmetic: 4 mm more on either leg of 1473 mm are 1200 log2(1481/1473) = 9.4 cents."""
    assert pulled_cents(out_mm=16, at_pitch_mm=12, length_mm=1473) == pytest.approx(9.38, abs=0.01)
    assert pulled_cents(out_mm=8, at_pitch_mm=12, length_mm=1473) == pytest.approx(-9.43, abs=0.01)
