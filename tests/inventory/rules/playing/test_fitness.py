from inventory.rules.playing import fit, reports_by_level
from tests.inventory.rules.cases import CATALOG, KINDS, make_chart, make_finding


def make_fit(code: str, *findings: str):
    return fit(
        reports=reports_by_level(
            kind=KINDS[code],
            chart=make_chart(code),
            options={},
            findings=[make_finding(code, one) for one in findings],
            faults=CATALOG.faults,
            roles=CATALOG.roles,
        )
    )


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
