from dataclasses import replace

import pytest

from inventory.catalog.chart_schema import BrassChart
from inventory.rules.playing import PlayingReport, playing
from inventory.rules.playing.valves import combination_cents
from tests.inventory.rules.cases import CATALOG, KINDS, cents, fingerings, make_chart, make_report, states

# Error of a combination from its lengths, open tube 1: own arithmetic from 2^(n/12), as in any brass acoustics text.
PUBLISHED_CENTS = {(1, 2): 10.634, (2, 3): 15.529, (1, 3): 30.315, (1, 2, 3): 53.559}
# "Why the math doesn't add up" (JMU brass pedagogy, 2016): open 100, 6% a semitone; how far each combination is short.
PUBLISHED_SHORT = {(1, 2): 0.74, (2, 3): 1.15, (1, 3): 2.37, (1, 2, 3): 4.4}
# Lost first-year notes by valve: counted by hand over standard fingerings, and with every alternate a tube offers.
STANDARD_LOST = {
    "1": ["A3", "Bb3", "C#4", "D4", "E4", "F4", "A4", "Bb4", "C#5", "D5"],
    "2": ["A3", "B3", "C#4", "Eb4", "E4", "F#4", "Ab4", "A4", "B4", "C#5", "Eb5"],
    "3": ["C#4", "D4", "Eb4", "Ab4"],
}
LOST_WITH_ALTERNATES = {"1": 6, "2": 6, "3": 4}


@pytest.mark.parametrize(("valves", "published"), PUBLISHED_CENTS.items())
def test_combinations_are_as_sharp_as_published(valves, published):
    assert combination_cents(valves) == pytest.approx(published, abs=5e-4)


@pytest.mark.parametrize(("valves", "published"), PUBLISHED_SHORT.items())
def test_combinations_are_as_short_as_a_published_length_table(valves, published):
    """The table uses 6% a semitone (100, 106, 112.36 ...) instead of the twelfth root of two: so does this check."""
    loops = {1: 12.36, 2: 6.0, 3: 19.1}
    drop = {1: 2, 2: 1, 3: 3}
    needed = 100 * 1.06 ** sum(drop[valve] for valve in valves)
    assert needed - (100 + sum(loops[valve] for valve in valves)) == pytest.approx(published, abs=0.012)
    # and ours, in the same unit, differs from it only by that rounding of the semitone
    ours = 100 * 2 ** (sum(drop[valve] for valve in valves) / 12) * (1 - 2 ** (-combination_cents(valves) / 1200))
    assert ours == pytest.approx(published, abs=0.12)


def test_single_valves_are_in_tune():
    assert [combination_cents((valve,)) for valve in (1, 2, 3, 4)] == pytest.approx([0, 0, 0, 0], abs=1e-9)


def test_a_compensating_valve_takes_its_own_error_away():
    assert combination_cents((1, 3), compensating=3) == pytest.approx(0, abs=1e-9)
    assert combination_cents((2, 4), compensating=4) == pytest.approx(0, abs=1e-9)
    assert combination_cents((1, 2, 4), compensating=4) == pytest.approx(combination_cents((1, 2)))
    assert combination_cents((1, 2), compensating=4) == pytest.approx(10.634, abs=5e-4)


def test_a_healthy_trumpet_plays_every_note_as_usual_with_the_cents_of_its_lengths():
    report = make_report("trumpet")
    assert set(states(report).values()) == {"usual"}
    assert cents(report)["D4"] == pytest.approx(30.315, abs=5e-4)
    assert cents(report)["C#4"] == pytest.approx(53.559, abs=5e-4)
    assert cents(report)["C4"] == 0
    assert [note.sounding for note in report.notes] == list(range(55, 75))


@pytest.mark.parametrize("valve", ["1", "2", "3"])
def test_a_dead_valve_loses_what_standard_fingerings_need_and_less_with_alternates(valve):
    finding = f"piston_{valve}:valve_stuck:severe"
    assert list(make_report("trumpet", finding, standard_only=True).lost) == STANDARD_LOST[valve]
    assert len(make_report("trumpet", finding).lost) == LOST_WITH_ALTERNATES[valve]


def test_an_alternate_is_named():
    report = make_report("trumpet", "piston_1:valve_stuck:light")
    assert states(report)["E4"] == "other_fingering"
    assert fingerings(report)["E4"] == "3"
    assert states(report)["D4"] == "lost"
    assert (cents(report)["D4"], fingerings(report)["D4"]) == (None, "")


def test_a_valve_stuck_down_keeps_only_notes_that_use_it():
    report = make_report("trumpet", "piston_2:valve_stuck:severe:down")
    assert states(report)["B3"] == "usual"
    assert states(report)["C4"] == "lost"
    assert fingerings(report)["D5"] == "23" if states(report)["D5"] != "lost" else True
    for note in report.notes:
        assert note.state == "lost" or "2" in note.fingering


@pytest.mark.parametrize("severity", ["light", "moderate", "severe"])
def test_a_third_slide_that_cannot_move_leaves_its_combinations_sharp(severity):
    report = make_report("trumpet", f"third_valve_slide:slide_seized:{severity}")
    assert report.off == ("C#4", "D4")
    assert cents(report)["D4"] == pytest.approx(30.315, abs=5e-4)
    assert report.notes[4].because == (0,)


def test_a_third_slide_stuck_out_makes_its_combinations_longer():
    """Two ways of 12 mm on an air column of 1472 mm: 24 mm more than needed for valve three alone."""
    report = make_report("trumpet", "third_valve_slide:slide_seized:severe:pulled 12 mm")
    assert cents(report)["D4"] == pytest.approx(8.96, abs=0.2)
    assert states(report)["D4"] == "usual"
    assert report.off == ("C#4",)
    assert cents(report)["Eb4"] == pytest.approx(-6.9, abs=0.2)


@pytest.mark.parametrize(
    ("code", "note", "needed"),
    [
        ("trumpet", "D4", 17.1),
        ("trumpet", "C#4", 31.7),
        ("mellophone", "D4", 22.8),
        ("mellophone", "C#4", 42.3),
        ("euphonium", "C3", 34.1),
        ("euphonium", "B2", 63.4),
        ("tuba", "C2", 68.2),
        ("tuba", "B1", 126.9),
    ],
)
def test_a_throw_cures_what_its_millimeters_reach(code, note, needed):
    """Travel to bring 1+3 and 1+2+3 into tune: own arithmetic, from air columns of c / 2f at 20 degrees.

    A third valve of an exact minor third; trumpet 1473 mm, F mellophone 1966, euphonium 2945, BBb tuba 5890.
    """
    options = {"valves": "3", "third_slide": "ring"}
    assert lowest(code, note, travel_mm=needed + 0.1, options=options) == pytest.approx(0, abs=1e-9)
    assert lowest(code, note, travel_mm=needed - 0.1, options=options) > 0


def lowest(code: str, note: str, *, travel_mm: float | None, options: dict[str, str]) -> float:
    """How low a player gets a note with a third slide of this throw."""
    report = report_with_throw(code, travel_mm=travel_mm, options=options)
    (found,) = [one for one in report.notes if one.written == note]
    assert found.cents_low is not None
    return found.cents_low


def report_with_throw(code: str, *, travel_mm: float | None, options: dict[str, str]) -> PlayingReport:
    kind, chart = KINDS[code], make_chart(code, options)
    assert isinstance(chart, BrassChart)
    return playing(
        kind=kind,
        chart=replace(chart, throws=tuple(replace(throw, travel_mm=travel_mm) for throw in chart.throws)),
        options=options,
        findings=(),
        faults=CATALOG.faults,
        roles=CATALOG.roles,
        level="concert" if "concert" in kind.levels else next(iter(kind.levels)),
    )


def test_a_millimeter_of_a_trumpets_third_slide_is_worth_less_than_two_cents():
    """1.76 cents at 1+3 and 1.66 at 1+2+3: own arithmetic from a tube of 1473 mm."""
    for note, rate, millimeters in (("D4", 1.76, 17.0), ("C#4", 1.66, 31.0)):
        least, most = (lowest("trumpet", note, travel_mm=mm, options={}) for mm in (millimeters, millimeters - 1))
        assert most - least == pytest.approx(rate, abs=0.015)


def test_a_throw_without_its_millimeters_goes_as_far_as_its_notes_need():
    assert lowest("trumpet", "C#4", travel_mm=None, options={}) == 0


def test_a_throw_too_short_leaves_a_note_off():
    """1+3 needs 17.1 mm; with less than 3 it stays 25 cents sharp, beyond the limit. (30.3 less 1.79 a millimeter.)"""
    for travel_mm, state in ((2.9, "off"), (3.1, "usual")):
        report = report_with_throw("trumpet", travel_mm=travel_mm, options={})
        assert states(report)["D4"] == state


def test_an_instrument_without_a_ring_is_sharp_by_its_make():
    report = make_report("trumpet", options={"third_slide": "none"})
    assert report.off == ("C#4", "D4")
    assert all(note.because == () for note in report.notes)


def test_four_valves_play_low_notes_without_the_first_and_third():
    report = make_report("euphonium", options={"valves": "4"})
    assert (fingerings(report)["C3"], cents(report)["C3"]) == ("4", 0)
    assert fingerings(report)["B2"] == "24"
    assert cents(report)["B2"] == pytest.approx(24.55, abs=0.01)
    three = make_report("euphonium", options={"valves": "3"})
    assert (fingerings(three)["C3"], states(three)["C3"]) == ("13", "off")
    assert cents(three)["C3"] == pytest.approx(30.315, abs=5e-4)  # no ring: nobody moves its third slide
    ringed = make_report("euphonium", options={"valves": "3", "third_slide": "ring"})
    assert states(ringed)["C3"] == "usual"


def test_a_dead_fourth_valve_falls_back_on_the_first_and_third():
    report = make_report("euphonium", "piston_4:valve_stuck:severe", options={"valves": "4"})
    assert (states(report)["C3"], fingerings(report)["C3"]) == ("off", "13")
    assert cents(report)["C3"] == pytest.approx(30.315, abs=5e-4)
    assert report.lost == ()


def test_a_compensating_euphonium_is_in_tune_with_the_fourth_valve_down():
    report = make_report("euphonium", options={"valves": "4", "compensating": "yes"})
    assert cents(report)["B2"] == pytest.approx(0, abs=1e-9)


def test_the_thumb_saves_a_double_horn_where_a_single_one_loses_notes():
    single = make_report("horn_single", "rotor_1:rotor_seized:severe")
    double = make_report("horn_double", "rotor_1:rotor_seized:severe")
    assert set(double.lost) < set(single.lost)
    assert fingerings(double)["F4"] == "T0"
    assert states(double)["F4"] == "other_fingering"


def test_a_dead_thumb_valve_leaves_the_f_side():
    report = make_report("horn_double", "rotor_thumb:rotor_seized:severe")
    assert report.lost == ()
    assert fingerings(report)["C5"] == "0"
    assert not any("T" in note.fingering for note in report.notes)
    assert report.functions_lost == ("the thumb valve's side",)


def test_a_slide_of_one_side_says_nothing_of_the_other():
    report = make_report("horn_double", "valve_slide_f_side_3:slide_seized:severe", level="concert")
    assert all(note.fingering[0] != "T" for note in report.notes if note.state == "off")
    healthy = make_report("horn_double", level="concert")
    assert [one for one, note in zip(healthy.notes, report.notes, strict=True) if one.fingering[0] == "T" != note]


def test_swapped_pistons_stop_the_instrument():
    assert len(make_report("trumpet", "piston:valve_swapped:severe").lost) == 20


def test_a_leak_on_a_loop_spoils_only_the_notes_that_use_it():
    report = make_report("trumpet", "third_slide_water_key:water_key_leak:severe")
    assert report.off == ("C#4", "D4", "Eb4", "Ab4")
    assert report.lost == ()


def test_a_missing_loop_loses_only_the_notes_that_use_it():
    report = make_report("trumpet", "third_valve_slide:missing_part:severe")
    assert report.lost == ("C#4", "D4", "Eb4", "Ab4")


def test_a_leak_where_all_the_air_passes_weakens_every_note():
    assert len(make_report("trumpet", "tuning_slide_water_key:water_key_leak:severe").off) == 20
    assert make_report("trumpet", "tuning_slide_water_key:water_key_leak:light").off == ()


def test_a_slow_valve_takes_no_note_until_it_no_longer_returns():
    assert make_report("trumpet", "piston_2:valve_sluggish:moderate").lost == ()
    assert len(make_report("trumpet", "piston_2:valve_sluggish:severe").lost) == 6


def test_a_valve_without_its_spring_stays_down():
    report = make_report("trumpet", "valve_spring_2:missing_part:severe")
    assert all(note.state == "lost" or "2" in note.fingering for note in report.notes)


def test_a_third_slide_without_its_ring_cannot_be_moved_while_playing():
    report = make_report("trumpet", "braces_and_finger_hooks:brace_missing:moderate:third slide ring")
    assert report.off == ("C#4", "D4")
    assert make_report("trumpet", "braces_and_finger_hooks:brace_missing:moderate:hook").off == ()
    assert make_report("trumpet", "third_slide_ring:brace_missing:moderate").off == report.off
    assert make_report("trumpet", "first_slide_saddle:brace_missing:moderate").off == ()
    assert make_report("trumpet", "third_valve_slide:dent_small:moderate:ring").off == ()  # no ring is gone


def test_a_spring_too_weak_to_lift_its_valve_leaves_it_down():
    weak, stuck = (
        make_report("trumpet", "valve_spring_2:spring_weak:severe"),
        make_report("trumpet", "piston_2:valve_stuck:severe:down"),
    )
    assert weak.lost == stuck.lost != ()


def test_a_makeshift_as_far_off_as_the_worst_usual_fingering_still_counts():
    """F#4 by 1+2+3 from the sixth partial is 53.6 cents sharp (see above): off, not lost, when nothing else is left."""
    report = make_report(
        "trumpet",
        "piston_1:valve_stuck:severe:down",
        "piston_3:valve_stuck:severe:down",
        "third_valve_slide:slide_seized:severe",
    )
    assert (states(report)["F#4"], fingerings(report)["F#4"]) == ("off", "123")
    assert cents(report)["F#4"] == pytest.approx(53.559, abs=5e-4)


def test_a_makeshift_a_semitone_off_does_not_count():
    """2+3+4 is 104 cents sharp: 1 + .05946 + .18921 + .33484 = 1.58351 of the tube where 2^(9/12) = 1.68179 is due."""
    held = [f"piston_{valve}:valve_stuck:severe:down" for valve in "234"]
    report = make_report("euphonium", *held, options={"valves": "4", "compensating": "no"})
    assert combination_cents((2, 3, 4)) == pytest.approx(104.2, abs=0.1)
    assert set(fingerings(report).values()) == {""}


def test_a_guide_a_slot_off_makes_every_note_stuffy():
    """Words of the catalog: "Guide a slot off, blows stuffy". Air passes a valve whether it is up or down."""
    report = make_report("trumpet", "piston_2:valve_swapped:light")
    assert report.lost == ()
    assert report.off == tuple(note.written for note in report.notes)
