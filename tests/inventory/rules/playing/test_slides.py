import pytest

from inventory.rules.playing.slides import extension, nearest_position, tube
from tests.inventory.rules.cases import cents, fingerings, make_chart, make_report, states

# Lowest position for each semitone from E2 (OEIS A309909, after Kennan 1952).
A309909 = [7, 6, 5, 4, 3, 2, 1] * 2 + [5, 4, 3, 2, 1, 4, 3, 2, 1, 3, 2, 1, 3, 2, 3, 2, 1]


def test_usual_positions_are_the_published_ones():
    report = make_report("trombone", level="concert")
    assert report.notes[0].written == "E2"
    assert [int(note.fingering) for note in report.notes] == A309909[:31]


def test_extensions_are_the_lengths_of_the_seven_positions():
    """Half of 270 cm times 2^(k/12) - 1: 0, 8.03, 16.53, 25.54, 35.09, 45.20, 55.92 cm of travel (own arithmetic)."""
    travel = [135 * extension(place) for place in range(1, 8)]
    assert travel == pytest.approx([0, 8.03, 16.53, 25.54, 35.09, 45.20, 55.92], abs=0.006)


def test_a_slide_that_stops_loses_the_notes_beyond():
    report = make_report("trombone", "outer_slide_tube:dent_slide_leg:severe:stops at position 4")
    assert report.lost == ("B2", "C3", "Db3", "Gb3")
    assert cents(report)["D3"] == 0


def test_the_trigger_gives_back_what_a_stopped_slide_loses():
    report = make_report("trombone_f", "outer_slide_tube:dent_slide_leg:severe:position 4")
    assert (states(report)["C3"], fingerings(report)["C3"]) == ("other_fingering", "T1")
    assert fingerings(report)["B2"] == "T2"
    assert "B2" not in report.lost


def test_a_seized_slide_plays_first_position_only():
    report = make_report("trombone", "inner_slide_tube:slide_seized:light")
    assert [note.written for note in report.notes if note.state == "usual"] == ["Bb2", "F3", "Bb3", "D4"]
    held = make_report("trombone", "inner_slide_tube:slide_seized:severe:position 3")
    assert [note.written for note in held.notes if note.state == "usual"] == ["Eb3", "Ab3", "C4"]


def test_a_dead_trigger_costs_a_first_year_player_nothing():
    report = make_report("trombone_f", "f_attachment_rotor:rotor_seized:severe")
    assert report.lost == report.off == ()
    assert report.functions_lost == ("the F attachment",)


def test_a_trigger_stuck_down_shortens_the_instrument_to_f():
    report = make_report("trombone_f", "f_attachment_rotor:rotor_seized:severe:down")
    assert states(report)["Bb2"] == "other_fingering"
    assert all(note.state == "lost" or note.fingering.startswith("T") for note in report.notes)


def test_an_open_lock_is_no_matter_of_notes():
    report = make_report("trombone", "slide_lock:slide_lock_fail:severe")
    assert report.lost == ()
    assert report.functions_lost == ("locking the slide",)


def test_a_leaking_slide_weakens_every_note():
    assert len(make_report("trombone", "inner_slide_tube:slide_compression_low:severe").off) == 18


def test_the_f_attachment_fills_the_gap_below_low_e():
    """A tube in F is 2^(5/12) of the one in B flat; low C needs 2^(10/12), so the slide gives the rest (own arithmetic)."""
    report = make_report("trombone_f", level="concert")
    low = {note.written: note.fingering for note in report.notes if note.sounding < 40}
    assert low == {"C2": "T7", "Db2": "T6", "D2": "T5", "Eb2": "T4"}
    assert 135 * (2 ** (10 / 12) - tube(make_chart("trombone_f"), "T")) == pytest.approx(60.3, abs=0.1)  # cm


def test_without_the_trigger_nothing_is_left_below_low_e():
    report = make_report("trombone_f", "f_attachment_rotor:rotor_seized:severe", level="concert")
    assert report.lost == ("C2", "Db2", "D2", "Eb2")


def test_two_rotors_together_are_about_in_d():
    """2^(5/12) + 2^(4/12) - 1 = 1.5948, eight semitones and a tenth (own arithmetic)."""
    assert tube(make_chart("trombone_bass"), "TG") == pytest.approx(1.59476, abs=1e-5)
    assert nearest_position(2 ** (11 / 12) - tube(make_chart("trombone_bass"), "TG")) == 5
    report = make_report("trombone_bass", level="concert")
    assert fingerings(report)["B1"] == "TG5"
    assert fingerings(report)["Bb1"] == "1"


def test_a_dead_second_rotor_costs_a_bass_trombone_low_b_alone():
    report = make_report("trombone_bass", "second_rotor:rotor_seized:severe", level="concert")
    assert report.lost == ("B1",)
    assert report.functions_lost == ("the second attachment",)
    assert fingerings(report)["C2"] == "T7"


def test_a_second_rotor_stuck_down_leaves_what_its_tube_gives():
    report = make_report("trombone_bass", "second_rotor:rotor_seized:severe:down", level="concert")
    assert all(note.state == "lost" or "G" in note.fingering for note in report.notes)
    assert report.functions_lost == ("playing without the second attachment",)


def test_a_leak_at_the_second_rotor_weakens_only_what_needs_it():
    report = make_report("trombone_bass", "second_rotor:valve_leak:severe", level="concert")
    assert report.off == ("B1",)


def test_of_two_stops_the_nearer_counts():
    """Positions of the first year: beyond third nothing is left, whatever the other leg still allows."""
    legs = [f"{leg}_slide_tube:dent_slide_leg:severe:position {at}" for leg, at in (("outer", 5), ("inner", 3))]
    both, nearer = make_report("trombone", *legs), make_report("trombone", legs[1])
    assert both.lost == nearer.lost != make_report("trombone", legs[0]).lost
    assert all(note.fingering in {"1", "2", "3"} for note in both.notes if note.fingering)
