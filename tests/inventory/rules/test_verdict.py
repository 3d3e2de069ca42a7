import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.catalog.schema import Effect, Severity
from inventory.rules.facts import FindingFact
from inventory.rules.verdict import EffectGroup, Verdict, finding_name
from tests.inventory.rules.cases import CATALOG, KINDS, make_finding, make_judgement


@pytest.mark.parametrize("code", KINDS)
def test_an_instrument_without_findings_plays(code):
    judgement = make_judgement(code)
    assert judgement.verdict is Verdict.PLAYS
    assert judgement.reasons == judgement.limits == ()


def test_an_instrument_nobody_looked_at_is_not_judged():
    assert make_judgement("trumpet", inspected=False).verdict is Verdict.NOT_INSPECTED


@pytest.mark.parametrize(
    ("kind", "finding", "verdict"),
    [
        ("trumpet", "finish:lacquer_wear:severe", "plays"),
        ("trumpet", "third_valve_slide:slide_seized:light", "plays_with_limits"),
        ("trumpet", "main_tuning_slide:slide_seized:light", "plays_with_limits"),
        ("trumpet", "second_valve_slide:slide_seized:severe", "plays_with_limits"),
        ("trumpet", "piston_1:valve_stuck:severe", "plays_with_limits"),
        ("trumpet", "piston:valve_swapped:severe", "does_not_play"),
        ("trumpet", "mouthpiece:missing_part:severe", "does_not_play"),
        ("trumpet", "case:odor_mold:light", "does_not_play"),
        ("trombone", "slide_lock:slide_lock_fail:light", "plays_with_limits"),
        ("trombone", "slide_lock:slide_lock_fail:severe", "does_not_play"),
        ("trombone", "inner_slide_tube:slide_seized:light", "does_not_play"),
        ("clarinet_bb", "lower_keys_E_B_pad:pad_leak:severe", "plays_with_limits"),
        ("clarinet_bb", "throat_keys_throat_A:pad_leak:severe", "does_not_play"),
        ("snare_kit", "strainer:strainer_fail:severe", "plays_with_limits"),
        ("snare_kit", "batter_head:head_worn:severe", "does_not_play"),
        ("bell_kit", "bars_naturals_C5:bar_cracked:severe", "plays_with_limits"),
    ],
)
def test_a_finding_decides_the_verdict(kind, finding, verdict):
    assert make_judgement(kind, finding).verdict == verdict


# What can fall, cut, or break further within one loan: common practice, no source.
@pytest.mark.parametrize(
    ("kind", "finding", "kept_in"),
    [
        ("trumpet", "braces_and_finger_hooks:solder_broken:light", "One open joint loads the next"),
        ("cello", "soundpost:soundpost_down:severe", "the top gives way"),
        ("cello", "soundpost:soundpost_down:light", ""),
        ("trombone", "slide_lock:slide_lock_fail:moderate", "costliest accident"),
        ("sax_alto", "strap_ring:brace_missing:light", "without it the instrument falls"),
        ("trumpet", "braces_and_finger_hooks:brace_missing:light", ""),  # a lyre holder, a pinky hook
        ("sax_alto", "strap_ring:missing_part:light", "can fall"),
        ("trumpet", "bottom_valve_cap_2:cap_stuck:severe", ""),  # keeps nothing in
        ("trumpet", "top_valve_cap_2:cap_stuck:severe", "cannot be oiled"),
        ("trumpet", "top_valve_cap_2:missing_part:light", "falls out"),
        ("trumpet", "bottom_valve_cap_2:missing_part:light", "falls out"),
        ("trumpet", "top_valve_cap_2:cap_stuck:light", ""),  # a rubber pad turns it
        ("trumpet", "finish:lacquer_wear:severe", ""),
        ("trumpet", "leadpipe:red_rot:moderate", ""),
        ("trumpet", "leadpipe:red_rot:severe", "tears"),
        ("cymbals", "cymbal:plate_cracked:moderate", "cracked edge cuts"),
        ("trumpet", "piston_2:valve_stuck:severe", ""),
    ],
)
def test_danger_or_damage_within_one_loan_keeps_it_in_whatever_it_plays(kind, finding, kept_in):
    (effect,) = make_judgement(kind, finding).effects
    assert bool(effect.kept_in) == bool(kept_in)
    assert kept_in in effect.kept_in
    assert effect.kept_in.startswith(effect.sentence.partition(":")[0] if kept_in else "")


def test_beyond_the_share_of_lost_notes_it_does_not_play():
    one = make_judgement("trumpet", "piston_1:valve_stuck:severe")
    both = make_judgement("trumpet", "piston_1:valve_stuck:severe", "piston_2:valve_stuck:severe")
    assert one.report.lost_share <= 0.5 < both.report.lost_share
    assert both.verdict is Verdict.DOES_NOT_PLAY
    assert any("too many" in reason for reason in both.reasons)


def test_effects_are_told_in_plain_words():
    judgement = make_judgement(
        "trumpet",
        "piston_2:valve_stuck:severe:up",
        "third_valve_slide:slide_seized:moderate",
        "finish:lacquer_wear:moderate",
    )
    stuck, seized, worn = judgement.effects
    assert stuck.sentence == (
        "Pistons, valve 2, stuck piston, up (severe): 6 of 20 first-year notes lost (B3, C♯4, E♭4, F♯4, A♭4, E♭5), "
        "1 off (B4 +30 cents), 4 need another fingering."
    )
    assert (stuck.effect, stuck.group) == (Effect.LOSES_NOTES, EffectGroup.LIMITS)
    assert "D4 +30 cents" in seized.sentence
    assert seized.effect is Effect.LOSES_NOTES  # with the second valve dead, C#4 is lost by both
    assert (worn.effect, worn.group) == (Effect.LOOKS_ONLY, EffectGroup.LOOKS)
    assert judgement.group(EffectGroup.LOOKS) == (worn,)


def test_limits_are_written_for_the_agreement():
    limits = make_judgement("trumpet", "third_valve_slide:slide_seized:light").limits
    assert limits[0] == "These first-year notes are out of tune or weak: C♯4 +54 cents, D4 +30 cents."
    stuck = make_judgement("trumpet", "main_tuning_slide:slide_seized:moderate:pulled 0 mm").limits
    assert "Tuning: stands 28 cents sharp and cannot be tuned to A = 440." in stuck


@pytest.mark.parametrize("severity", ["moderate", "severe"])
def test_a_tuning_slide_that_does_not_move_says_where_it_leaves_the_pitch(severity):
    effect = make_judgement("trumpet", f"main_tuning_slide:slide_seized:{severity}:pulled 0 mm").effects[0]
    assert effect.sentence.endswith(
        ": the instrument stands 28 cents sharp and cannot be tuned to A = 440; slow or awkward."
    )


def test_a_broken_case_limits_no_playing_but_says_what_it_risks():
    """Common practice, no source: a latch is mended, not written into the loan as a limit."""
    latch = make_judgement("trumpet", "case:case_broken:moderate")
    assert (latch.verdict, latch.limits) == (Verdict.PLAYS, ())
    assert latch.effects[0].effect is Effect.RISKS
    assert (
        latch.effects[0].sentence
        == "Case, broken case: playing is not affected, but the instrument is at risk in transit."
    )
    assert make_judgement("trumpet", "case:odor_mold:light").verdict is Verdict.DOES_NOT_PLAY


@pytest.mark.parametrize("code", [code for code, kind in KINDS.items() if kind.has("case", "")])
def test_a_case_that_drops_its_instrument_keeps_it_in_and_a_torn_cover_does_not(code):
    """Common practice, no source: a child carries a snare or bell kit home in its bag; a cover only keeps dust off."""
    (effect,) = make_judgement(code, "case:case_broken:severe").effects
    travels = "case" in {one.code for one in KINDS[code].accessories}
    assert bool(effect.kept_in) == travels


def test_a_finding_says_all_that_it_does():
    rotted = make_judgement("trumpet", "leadpipe:red_rot:severe").effects[0]
    assert rotted.effect is Effect.BENDS_PITCH
    assert rotted.sentence.endswith(": tone or pitch suffers; more damage may follow.")
    cracked = make_judgement("clarinet_bb", "body:body_crack:severe")
    assert cracked.effects[0].sentence.endswith("(every note weak); more damage may follow.")
    assert cracked.limits[-1].endswith("cracked body (severe): more damage may follow.")
    cut = make_judgement("cymbals", "cymbal:plate_cracked:severe").effects[0]
    assert cut.sentence.endswith(": not safe to hand out; tone or pitch suffers.")


def test_a_part_in_many_places_says_that_all_of_them_were_counted():
    words = "; which one is not said, so all count"
    assert make_judgement("bell_kit", "bars_naturals:bar_cracked:severe").effects[0].sentence.endswith(f"{words}.")
    assert words not in make_judgement("trumpet", "piston_2:valve_stuck:severe").effects[0].sentence
    assert words not in make_judgement("clarinet_bb", "sliver_key:pad_leak:severe").effects[0].sentence
    assert words not in make_judgement("trombone", "outer_slide_tube:dent_slide_leg:severe").effects[0].sentence


def test_a_dead_valve_that_costs_this_player_nothing_only_slows():
    judgement = make_judgement("euphonium", "piston_4:valve_stuck:severe")
    assert judgement.report.lost == ()
    assert judgement.effects[0].effect in {Effect.SLOWS, Effect.BENDS_PITCH}
    assert judgement.verdict is Verdict.PLAYS_WITH_LIMITS


def test_a_water_key_of_one_loop_that_hangs_open_does_not_stop_the_instrument():
    judgement = make_judgement("trumpet", "third_slide_water_key:water_key_spring:severe")
    assert judgement.effects[0].effect is Effect.LOSES_NOTES
    assert judgement.verdict is Verdict.PLAYS_WITH_LIMITS


def test_an_instrument_that_is_sharp_by_its_make_plays():
    judgement = make_judgement("flugelhorn")
    assert judgement.report.off
    assert judgement.verdict is Verdict.PLAYS


def test_a_part_the_instrument_does_not_have_is_said_so():
    stray = FindingFact(part="fourth_valve_slide", fault="slide_seized", severity=Severity.SEVERE)
    name = finding_name(finding=stray, part=None, faults=CATALOG.faults)
    assert name == "Fourth valve slide, stuck or seized slide (severe)"


@given(st.data())
@settings(max_examples=100, deadline=None)
def test_looks_never_change_a_verdict(data):
    code = data.draw(st.sampled_from(sorted(KINDS)))
    kind = KINDS[code]
    looks = [
        f"{part.code}:{fault}:{severity.value}"
        for part in kind.parts
        for fault in CATALOG.roles[part.role].faults
        for severity in Severity
        if fault not in {"missing_part", "slide_seized"}
        and CATALOG.faults[fault].effects[severity] == (Effect.LOOKS_ONLY,)
    ]
    some = data.draw(st.lists(st.sampled_from(looks), min_size=1, max_size=3))
    assert make_judgement(code, *some).verdict is Verdict.PLAYS
    assert make_finding(code, some[0]).fault


def test_words_of_a_verdict():
    assert Verdict.PLAYS_WITH_LIMITS.words == "plays with limits"


def test_notes_that_a_leak_weakens_are_told_together():
    judgement = make_judgement("trumpet", "third_slide_water_key:water_key_leak:severe")
    assert judgement.effects[0].sentence.endswith("4 off (weak: C♯4, D4, E♭4, A♭4).")
    leaking = make_judgement("clarinet_bb", "lower_keys_F_C_pad:pad_leak:light")
    assert leaking.effects[0].sentence.endswith("5 off (weak: E3, F3, F♯3, B4, C5).")


def test_one_torn_head_of_four_limits_a_set_and_four_silence_it():
    """Common practice, no source: a set of kettledrums is played on the drums that are left."""
    one = make_judgement("timpani_set", "head_29:head_worn:severe")
    assert one.verdict is Verdict.PLAYS_WITH_LIMITS
    assert "Not working: the 29 inch drum." in one.limits
    assert one.silenced_by == ()
    every = make_judgement("timpani_set", *(f"head_{drum}:head_worn:severe" for drum in (32, 29, 26, 23)))
    assert every.verdict is Verdict.DOES_NOT_PLAY
    assert len(every.silenced_by) == 4
    assert make_judgement("snare_kit", "batter_head:head_worn:severe").verdict is Verdict.DOES_NOT_PLAY


def test_what_keeps_it_from_sounding_is_told_from_what_keeps_it_in():
    gone = make_judgement("trumpet", "mouthpiece:missing_part:severe")
    assert gone.silenced_by == ("Mouthpiece, missing (severe): no note sounds.",)
    assert make_judgement("trumpet", "piston_2:valve_stuck:severe").silenced_by == ()
    assert make_judgement("trombone", "slide_lock:slide_lock_fail:severe").silenced_by == ()  # unsafe, but it plays
    cracked = make_judgement("oboe", "body:body_crack:severe")
    assert cracked.silenced_by == ()
    assert cracked.verdict is Verdict.PLAYS_WITH_LIMITS  # it leaks everywhere, and must not go out all the same
    assert cracked.effects[0].kept_in
