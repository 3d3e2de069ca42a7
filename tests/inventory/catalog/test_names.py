"""Names as people write them: the walk's own words, spreadsheet words, and refusals that help."""

from __future__ import annotations

from itertools import product

import pytest

from inventory.catalog.load import catalog
from inventory.catalog.names import (
    AmbiguousNameError,
    UnknownNameError,
    find_kind,
    full_code,
    known_parts,
    methods_for,
    resolve_fault,
    resolve_kind,
    resolve_part,
    resolve_severity,
    slug,
)
from inventory.catalog.schema import Severity

TRADE = catalog()


@pytest.mark.parametrize(
    ("kind", "text", "code"),
    [
        ("trumpet", "third_valve_slide", "third_valve_slide"),
        ("trumpet", "Third valve slide", "third_valve_slide"),
        ("trumpet", "main_tuning_slide", "main_tuning_slide"),
        ("trumpet", "tuning slide", "main_tuning_slide"),
        ("trumpet", "tuning_slide_water_key", "tuning_slide_water_key"),
        ("trumpet", "piston_2", "piston_2"),
        ("trumpet", "second valve", "piston_2"),
        ("trumpet", "bottom valve caps", "bottom_valve_cap"),
        ("trumpet", "valve springs 3", "valve_spring_3"),
        ("trumpet", "bell flare and rim", "bell"),
        ("trumpet", "braces", "braces_and_finger_hooks"),
        ("clarinet_bb", "e_b_PAD", "lower_keys_E_B_pad"),
        ("clarinet_bb", "F#/C# pad", "lower_keys_Fs_Cs_pad"),
        ("clarinet_bb", "L1_hole", "upper_rings_L1_hole"),
        ("clarinet_bb", "springs_L1_hole", "springs_L1_hole"),
        ("clarinet_bb", "centre tenon cork and socket", "center_tenon"),
        ("sax_alto", "Gs_pad", "gs_key_Gs_pad"),
        ("sax_alto", "body_octave_vent", "body_octave_body_octave_vent"),
        ("horn_double", "rotor_thumb", "rotor_thumb"),
        ("horn_double", "first F side valve slide", "valve_slide_f_side_1"),
        ("tuba", "piston 4", "piston_4"),
        ("bell_kit", "Db5", "bars_accidentals_Cs5"),
        ("timpani_set", "head 32", "head_32"),
    ],
)
def test_a_part_is_found_by_what_people_call_it(kind, text, code):
    assert full_code(*resolve_part(TRADE.kinds[kind], text)) == code


def test_an_unknown_part_lists_those_of_the_kind():
    with pytest.raises(UnknownNameError, match=r"part of a trumpet 'reed' is not known\. Known: mouthpiece, "):
        resolve_part(TRADE.kinds["trumpet"], "reed")


def test_a_three_valve_kind_has_no_fourth_piston():
    with pytest.raises(LookupError):
        resolve_part(TRADE.kinds["trumpet"], "piston_4")


def test_a_name_that_fits_several_parts_asks_which():
    with pytest.raises(AmbiguousNameError) as caught:
        resolve_part(TRADE.kinds["horn_double"], "Bb and F main slides")
    assert caught.value.known == ("f_main_slide", "bb_main_slide")


def test_known_parts_go_along_the_air():
    codes = known_parts(TRADE.kinds["trumpet"])
    assert codes[0] == "mouthpiece"
    assert codes.index("leadpipe") < codes.index("main_tuning_slide") < codes.index("piston_1") < codes.index("bell")


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("Tpt", "trumpet"),
        ("trumpet", "trumpet"),
        ("TRUMPET #3", "trumpet"),
        ("Trumpets", "trumpet"),
        ("Bb Clar.", "clarinet_bb"),
        ("B-flat clarinet", "clarinet_bb"),
        ("Bass Cl 2", "clarinet_bass"),
        ("alto sax", "sax_alto"),
        ("Saxophone", "sax_alto"),
        ("bari sax", "sax_baritone"),
        ("F horn", "horn_single"),
        ("double horn", "horn_double"),
        ("F/Bb horn", "horn_double"),
        ("bone", "trombone"),
        ("Trombone w/ F att.", "trombone_f"),
        ("euph", "euphonium"),
        ("snare", "snare_kit"),
        ("Flute No. 7", "flute"),
        ("timpani", "timpani_set"),
        ("Bb Tpt", "trumpet"),
        ("Cornet B flat", "cornet"),
        ("B♭ tbn", "trombone"),
        ("Flûte", "flute"),
    ],
)
def test_a_spreadsheet_word_finds_its_kind(text, code):
    found = find_kind(TRADE, text)
    assert found is not None
    assert found.code == code


@pytest.mark.parametrize("text", ["", "zither", "3", "#", "horn of plenty", "C trumpet", "Eb tpt", "b", "bb"])
def test_a_word_that_is_no_instrument_finds_none(text):
    assert find_kind(TRADE, text) is None


def test_no_word_means_two_kinds():
    owners: dict[str, str] = {}
    for kind in TRADE.kinds.values():
        for word in (kind.code, kind.name, *kind.aliases):
            assert owners.setdefault(slug(word).replace("_", ""), kind.code) == kind.code, word


def test_kinds_faults_and_severities_are_found_by_code():
    trumpet = resolve_kind(TRADE, "trumpet")
    assert trumpet.code == "trumpet"
    assert resolve_fault(TRADE, "slide_seized").code == "slide_seized"
    assert resolve_fault(TRADE, "slide_seized", part=trumpet.part("third_valve_slide")).code == "slide_seized"
    assert resolve_severity("Moderate") is Severity.MODERATE


def test_unknown_codes_list_what_is_known():
    with pytest.raises(UnknownNameError, match="clarinet_bb"):
        resolve_kind(TRADE, "zither")
    with pytest.raises(UnknownNameError, match="slide_seized"):
        resolve_fault(TRADE, "melted")
    with pytest.raises(UnknownNameError, match="fault at the third valve slide 'pad_leak'"):
        resolve_fault(TRADE, "pad_leak", part=TRADE.kinds["trumpet"].part("third_valve_slide"))
    with pytest.raises(UnknownNameError, match="light, moderate, severe"):
        resolve_severity("awful")


@pytest.mark.parametrize(
    ("kind", "part", "fault", "severity", "methods"),
    [
        ("sax_alto", "lower_stack", "pad_leak", "light", ("pad_reseat", "pad_replace_one")),
        ("sax_alto", "lower_stack", "pad_leak", "severe", ("pad_replace_one",)),
        ("trumpet", "leadpipe", "red_rot", "light", ("watch_and_dry",)),
        ("trumpet", "leadpipe", "red_rot", "severe", ("replace_leadpipe",)),
        ("trumpet", "main_tuning_slide", "slide_seized", "severe", ("free_slide", "tuning_slide_align")),
        ("trumpet", "second_valve_slide", "slide_seized", "severe", ("free_valve_slide",)),
        ("trombone", "inner_slide_tube", "slide_seized", "severe", ("free_hand_slide", "slide_align")),
        ("flute", "head_tenon", "tenon_tight", "moderate", ("free_flute_tenon",)),
        ("clarinet_bb", "center_tenon", "tenon_tight", "light", ("cork_sand", "tenon_relief")),
        ("clarinet_bb", "center_tenon", "tenon_tight", "severe", ("free_tenon", "tenon_relief")),
        ("clarinet_bb", "lower_keys", "pad_sticky", "light", ("pad_unstick", "hand_clean_woodwind", "pad_replace_one")),
        ("clarinet_bb", "lower_keys", "key_bent", "light", ("pad_reseat_bent", "key_straighten")),
        ("clarinet_bb", "rods_and_posts", "key_post_loose", "light", ("post_tighten",)),
        ("sax_alto", "rods_and_posts", "key_post_loose", "light", ("post_solder",)),
        (
            "trumpet",
            "leadpipe",
            "leadpipe_bent",
            "severe",
            ("leadpipe_straighten", "tuning_slide_align", "replace_leadpipe"),
        ),
        ("trumpet", "valve_casing", "crack_brass", "light", ("casing_judge",)),
        ("trumpet", "third_valve_slide", "slide_stop_missing", "severe", ("stop_fit", "part_source")),
        ("horn_double", "rotor", "rotor_sluggish", "light", ("oil_rotor", "rotor_service")),
        ("cello", "strings", "string_broken", "severe", ("string_one", "string_set")),
        ("cello", "endpin", "endpin_slip", "severe", ("endpin_service", "part_source")),
        # "Shimming flute pads" (2013), "Close-up on shimming" (2013): screw or washer in the cup, paper shims, no glue
        ("flute", "right_hand_keys", "pad_leak", "light", ("pad_shim", "pad_replace_shim")),
        ("flute", "right_hand_keys", "pad_leak", "severe", ("pad_replace_shim",)),
        ("piccolo", "right_hand_keys", "pad_leak", "severe", ("pad_replace_one",)),
    ],
)
def test_the_gentlest_method_comes_first(kind, part, fault, severity, methods):
    role = TRADE.kinds[kind].part(part).role
    found = methods_for(catalog=TRADE, kind=TRADE.kinds[kind], fault=fault, role=role, severity=Severity(severity))
    assert found == methods


@pytest.mark.parametrize(
    ("code", "body", "severity", "methods"),
    [
        ("clarinet_bb", "wood", "light", ("crack_glue", "crack_pin")),
        ("oboe", "wood", "light", ("crack_pin",)),
        ("english_horn", "wood", "light", ("crack_pin",)),
        *product(("clarinet_bb", "oboe"), ("wood",), ("moderate", "severe"), (("crack_pin",),)),
        *product(("clarinet_bb", "oboe"), ("plastic",), ("light", "moderate"), (("crack_plastic",),)),
    ],
)
def test_what_mends_a_crack_hangs_on_wood_or_plastic(code, body, severity, methods):
    """Common practice, no source: wood near a hole is pinned or banded by a specialist, keys off; plastic is not.

    A light crack has no hole near it; on an oboe joint every crack has.
    """
    assert TRADE.methods["crack_pin"].needs == ("strip_keys",)
    kind = TRADE.kinds[code].built({"body": body})
    part = next(part for part in kind.parts if "body_crack" in TRADE.faults_at(part))
    found = methods_for(catalog=TRADE, kind=kind, fault="body_crack", role=part.role, severity=Severity(severity))
    assert found == methods


def test_one_string_costs_less_than_the_set():
    """Common practice, no source: one broken string is one string."""
    one, whole = (sum(need.high for need in TRADE.methods[code].parts) for code in ("string_one", "string_set"))
    assert one < whole


def test_a_straightened_key_has_its_pad_seated_again():
    for code in ("pad_reseat_bent", "pad_shim_bent"):
        assert TRADE.methods[code].needs == ("key_straighten",)


def test_what_flute_pads_are_leveled_with_is_paper_without_heat():
    """ "Shimming flute pads" (2013), "Close-up on shimming" (2013)."""
    for code in ("pad_shim", "pad_replace_shim", "pad_shim_bent"):
        assert "heat" not in TRADE.methods[code].tags
        assert "shims" in TRADE.methods[code].tools
        assert not {"heat_gun", "cement_stick"} & set(TRADE.methods[code].tools)


def test_an_instrument_goes_into_the_bath_without_its_bumpers_and_string():
    for code in ("soap_bath_brass", "chemical_flush", "ultrasonic_clean"):
        assert "remove_bumpers" in TRADE.methods[code].needs
    assert TRADE.methods["remove_bumpers"].put_back == ("fit_bumpers",)


def test_pulling_while_warm_waits_for_nothing():
    rungs = {rung.code: rung for rung in TRADE.ladders["tuning_slide"].rungs}
    assert rungs["hot_water"].wait_h == 0
