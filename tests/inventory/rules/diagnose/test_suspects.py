import pytest

from inventory.rules.diagnose import UnknownNotesError
from tests.inventory.rules.cases import make_diagnosis, make_report


def test_sharp_low_notes_point_to_the_third_slide():
    best = make_diagnosis("trumpet", "C#4", "D4").suspects[0]
    assert (best.part, best.fault, best.rank) == ("third_valve_slide", "slide_seized", 1)
    assert best.explains == ("C#4", "D4")
    assert best.extra == best.unexplained == ()
    assert best.test


def test_a_note_may_be_spelled_the_other_way():
    assert make_diagnosis("trumpet", "Db4", "D4") == make_diagnosis("trumpet", "C#4", "D4")
    assert make_diagnosis("trumpet", "Db4").failed == ("C#4",)


def test_equal_explanations_say_so():
    found = make_diagnosis("trumpet", "C#4", "D4")
    first = [suspect for suspect in found.suspects if suspect.rank == 1]
    assert all(suspect.ties == len(first) - 1 for suspect in first)
    assert len({suspect.test for suspect in first}) == len(first)


def test_what_no_single_fault_explains_is_explained_by_two():
    first = set(make_report("bell_kit", "bars_naturals_C5:bar_cracked:severe").lost)
    second = set(make_report("bell_kit", "bars_accidentals_Bb4:bar_cracked:severe").lost)
    found = make_diagnosis("bell_kit", *(first | second))
    whole = [suspect for suspect in found.suspects if len(suspect.causes) == 1 and not suspect.unexplained]
    assert all(len(suspect.extra) == 25 for suspect in whole)  # something under every bar
    best = next(suspect for suspect in found.suspects if len(suspect.causes) == 2)
    assert best.unexplained == best.extra == ()
    assert {cause.place for cause in best.causes} == {"C5", "Bb4"}
    assert any(suspect.unexplained for suspect in found.suspects if len(suspect.causes) == 1)


def test_the_range_tested_is_the_least_that_holds_the_failed_notes():
    assert make_diagnosis("trumpet", "D4").level == "first_year"
    assert make_diagnosis("trumpet", "F5").level == "second_year"


@pytest.mark.parametrize("note", ["H4", "C9", "", "drum"])
def test_an_unknown_note_is_refused_with_the_known_ones(note):
    with pytest.raises(UnknownNotesError, match=r"F#3, G3, Ab3"):
        make_diagnosis("trumpet", "C4", note)


def test_a_kind_without_notes_refuses_every_note():
    with pytest.raises(UnknownNotesError, match="no chart of notes"):
        make_diagnosis("snare_kit", "C4")


def test_nothing_failed_suspects_nothing():
    found = make_diagnosis("trumpet")
    assert found.suspects == found.hints == ()


def test_notes_that_were_not_played_do_not_clear_a_suspect():
    """A tester who plays a triad hears nothing of the notes between."""
    triad = ("C4", "E4", "G4", "C5")
    found = make_diagnosis("trumpet", "E4", tried=triad)
    assert found.tried == triad
    best = {(one.part, one.place) for one in found.suspects if one.rank == 1}
    assert {("piston", "1"), ("piston", "2")} <= best
    assert all(set(one.extra) <= set(triad) for one in found.suspects)
    whole = make_diagnosis("trumpet", "E4")
    assert whole.tried == tuple(note.written for note in make_report("trumpet").notes)
    assert not any(one.rank == 1 and one.place in {"1", "2"} and one.extra == () for one in whole.suspects)


def test_a_note_that_failed_counts_as_played_though_nobody_said_so():
    assert make_diagnosis("trumpet", "D4", weak=["E4"], tried=["Gb4"]).tried == ("D4", "E4", "F#4")


def test_the_range_is_the_least_that_holds_what_was_played_too():
    assert make_diagnosis("trumpet", "D4", tried=["D4", "G5"]).level == "second_year"


def test_a_weak_note_points_to_a_leak_and_a_dead_one_to_what_takes_it():
    """A leak weakens, an open hole or a valve that stays takes the note (the effect table of the catalog)."""
    names = [note.written for note in make_report("trombone").notes]
    dead, faint = make_diagnosis("trombone", *names, weak=[]), make_diagnosis("trombone", weak=names)
    assert dead.failed == faint.failed == tuple(names)
    first = {one.fault for one in dead.suspects if one.rank == 1}
    assert "foreign_object" in first
    assert "slide_compression_low" not in first
    assert "slide_compression_low" in {one.fault for one in faint.suspects if one.rank == 1}
    either = {one.fault for one in make_diagnosis("trombone", *names).suspects if one.rank == 1}
    assert {"foreign_object", "slide_compression_low"} <= either


def test_a_note_out_of_tune_may_be_called_weak_or_failed():
    for called in ({"failed": ("C#4", "D4"), "weak": []}, {"failed": (), "weak": ["C#4", "D4"]}):
        best = make_diagnosis("trumpet", *called["failed"], weak=called["weak"]).suspects[0]
        assert (best.part, best.fault) == ("third_valve_slide", "slide_seized")


def test_a_slide_that_stops_short_is_said_with_its_position():
    """Seventh position alone fails where the slide stops at sixth; published positions of a trombone."""
    for failed, position in ((["B2"], 6), (["B2", "C3"], 5)):
        best = make_diagnosis("trombone", *failed).suspects[0]
        assert best.causes[0].detail == f"position {position}"
        assert best.extra == best.unexplained == ()


def test_a_valve_that_stays_down_is_suspected_by_the_notes_that_need_it_up():
    names = make_report("trumpet", "piston_2:valve_stuck:severe:down").lost
    best = make_diagnosis("trumpet", *names).suspects
    stuck = next(one for one in best if (one.place, one.fault) == ("2", "valve_stuck"))
    assert stuck.rank == 1
    assert stuck.causes[0].detail == "down"


def test_a_horn_without_a_sound_is_looked_at_in_the_order_of_the_trade():
    """Trade: swapped valves, an object in the bore, a missing pad, an open water key, in that order."""
    names = [note.written for note in make_report("trumpet").notes]
    ranked = make_diagnosis("trumpet", *names, weak=[]).suspects
    order = list(dict.fromkeys(one.fault for one in ranked if one.rank == 1))
    assert order[:3] == ["valve_swapped", "foreign_object", "water_key_spring"]
