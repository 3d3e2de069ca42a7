from inventory.rules.playing import fit, for_everybody, level_fits
from inventory.rules.playing.fitness import named
from tests.inventory.rules.cases import KINDS, make_report


def make_fit(code: str, *findings: str):
    return fit(reports=make_reports(code, *findings))


def test_a_sound_horn_is_right_for_everybody():
    result = make_fit("clarinet_bb")
    assert set(result.unhurt) == set(KINDS["clarinet_bb"].levels)
    assert result.words == "Every level can play all its notes on it."


def test_a_flute_with_a_bad_low_pad_still_suits_a_beginner():
    result = make_fit("flute", "foot_keys_low_C_pad:pad_leak:severe")
    assert "first_year" in result.unhurt
    assert result.hurt == {"concert": ("C4",)}
    assert result.words == ("Right for a first-year player and a second-year player; the concert band would miss C4.")


def test_a_horn_that_hurts_everybody_says_which_notes():
    result = make_fit("trumpet", "piston_1:valve_stuck:severe")
    assert result.unhurt == ()
    assert "a first-year player would miss Bb3, C#4" in result.words


def test_a_drum_has_no_range_to_judge_by():
    assert "No range is stated" in make_fit("snare_kit").words


def make_reports(code: str, *findings: str):
    return {level: make_report(code, *findings, level=level) for level in KINDS[code].levels}


def make_levels(code: str, *findings: str):
    return {one.level: one for one in level_fits(reports=make_reports(code, *findings))}


def test_a_leak_below_the_first_year_range_hurts_nobody_there():
    levels = make_levels("flute", "foot_keys_low_C_pad:pad_leak:severe")
    assert levels["first_year"].words == "hurts nobody"
    assert levels["concert"].words == "loses C4"
    assert not levels["concert"].is_unhurt


def test_a_note_that_the_horn_is_off_at_by_its_make_hurts_nobody():
    """A euphonium of three valves without a throw stands sharp at 1+2+3; no finding did that."""
    assert all(level.is_unhurt and level.hurts == 0 for level in make_levels("euphonium").values())


def test_what_a_seized_slide_can_no_longer_do_hurts_by_its_notes_alone():
    levels = make_levels("euphonium", "third_valve_slide:slide_seized:severe")
    assert all(level.functions_lost == () for level in levels.values())


def test_a_horn_that_cannot_be_tuned_is_in_the_way_of_everybody():
    said = for_everybody(reports=make_reports("trumpet", "main_tuning_slide:slide_seized:severe"))
    assert len(said) == 1
    assert said[0].endswith("cannot be tuned to A = 440.")
    assert for_everybody(reports=make_reports("trumpet")) == ()


def test_many_notes_are_named_by_the_first_and_how_many_more():
    assert named(("C#4", "Eb4")) == "C♯4, E♭4"
    assert named(tuple(f"C{n}" for n in range(10))) == "C0, C1, C2, C3, C4, C5 and 4 more"
