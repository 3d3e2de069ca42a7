import pytest

from inventory.rules.playing.slides import extension
from tests.inventory.rules.cases import cents, fingerings, make_report, states

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


def test_a_trigger_stuck_down_shortens_the_horn_to_f():
    report = make_report("trombone_f", "f_attachment_rotor:rotor_seized:severe:down")
    assert states(report)["Bb2"] == "other_fingering"
    assert all(note.state == "lost" or note.fingering.startswith("T") for note in report.notes)


def test_an_open_lock_is_no_matter_of_notes():
    report = make_report("trombone", "slide_lock:slide_lock_fail:severe")
    assert report.lost == ()
    assert report.functions_lost == ("locking the slide",)


def test_a_leaking_slide_weakens_every_note():
    assert len(make_report("trombone", "inner_slide_tube:slide_compression_low:severe").off) == 18
