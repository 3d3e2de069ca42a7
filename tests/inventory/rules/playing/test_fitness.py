from dataclasses import replace

from inventory.rules.playing import LEVELS, for_everybody, level_fits
from tests.inventory.rules.cases import KINDS, make_report


def make_reports(code: str, *findings: str):
    return {level: make_report(code, *findings, level=level) for level in KINDS[code].levels}


def make_levels(code: str, *findings: str):
    return {one.level: one for one in level_fits(reports=make_reports(code, *findings))}


def test_a_sound_instrument_hurts_nobody():
    levels = make_levels("clarinet_bb")
    assert list(levels) == [level for level in LEVELS if level in KINDS["clarinet_bb"].levels]
    assert {one.words for one in levels.values()} == {"no notes missed"}


def test_a_lost_note_weighs_twice_as_much_as_one_that_is_off():
    """A trumpet: six first-year notes are lost with the second valve dead; two are off with the third slide stuck."""
    dead = make_levels("trumpet", "piston_2:valve_stuck:severe")["first_year"]
    assert (len(dead.lost), dead.off, dead.hurts) == (6, (), 12)
    assert dead.words.startswith("loses B3, C♯4, E♭4, F♯4, A♭4, E♭5; ")
    assert dead.words.endswith(" need another fingering")
    stuck = make_levels("trumpet", "third_valve_slide:slide_seized:light")["first_year"]
    assert (stuck.lost, stuck.off, stuck.hurts) == ((), ("C#4", "D4"), 2)
    assert stuck.words == "C♯4, D4 are off"


def test_one_note_is_said_in_the_singular():
    level = replace(make_levels("trumpet")["first_year"], other=("B3",), off=("C4",))
    assert level.words == "C4 is off; B3 needs another fingering"
    unhurt = replace(level, off=())
    assert (unhurt.misses, unhurt.refingered, unhurt.is_enough) == ("", "B3 needs another fingering", True)
    assert replace(level, other=(), off=(), functions_lost=("the snares",)).words == "not working: the snares"


def test_a_drum_has_no_range_to_judge_by_but_its_functions():
    assert make_levels("snare_kit") == {}


def test_a_leak_below_the_first_year_range_hurts_nobody_there():
    levels = make_levels("flute", "foot_keys_low_C_pad:pad_leak:severe")
    assert levels["first_year"].words == "no notes missed"
    assert levels["concert"].words == "loses C4"
    assert not levels["concert"].is_enough


def test_a_note_that_the_instrument_is_off_at_by_its_make_hurts_nobody():
    """A euphonium of three valves without a throw stands sharp at 1+2+3; no finding did that."""
    assert all(level.is_enough and level.hurts == 0 for level in make_levels("euphonium").values())


def test_what_a_seized_slide_can_no_longer_do_hurts_by_its_notes_alone():
    levels = make_levels("euphonium", "third_valve_slide:slide_seized:severe")
    assert all(level.functions_lost == () for level in levels.values())


def test_an_instrument_that_cannot_be_tuned_is_in_the_way_of_everybody():
    said = for_everybody(reports=make_reports("trumpet", "main_tuning_slide:slide_seized:severe:pulled 0 mm"))
    assert len(said) == 1
    assert said[0].endswith("cannot be tuned to A = 440.")
    assert for_everybody(reports=make_reports("trumpet")) == ()


def test_many_notes_are_said_as_ranges_and_of_many_apart_the_first_and_how_many_more():
    level = make_levels("trumpet")["first_year"]
    run = ("E3", "F3", "F#3", "G3", "Ab3", "A3", "Bb3", "B4", "C5")
    assert replace(level, lost=run).words == "loses E3 to B♭3, B4, C5"
    apart = tuple(f"C{n}" for n in range(9))
    assert replace(level, lost=apart).words == "loses C0, C1, C2, C3, C4, C5 and 3 more"
    assert replace(level, lost=apart[:8]).words == "loses C0, C1, C2, C3, C4, C5, C6, C7"
