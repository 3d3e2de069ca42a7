import pytest

from inventory.rules.diagnose import UnknownNotesError, diagnose, suspects
from tests.inventory.rules.cases import CATALOG, KINDS, make_chart, make_report


def make_diagnosis(code: str, *failed: str, level: str | None = None):
    return diagnose(
        kind=KINDS[code],
        chart=make_chart(code),
        options={},
        failed=failed,
        faults=CATALOG.faults,
        roles=CATALOG.roles,
        level=level,
    )


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


def test_going_down_the_first_note_to_fail_names_the_leak():
    """Trade: look at the pads newly shut at the highest note that turns fuzzy."""
    found = make_diagnosis("clarinet_bb", "E3", "F3", "F#3", "G3", "G#3", "B4", "C5", level="first_year")
    assert found.suspects[0].place == "R3_hole"
    assert "Going down, G#3 fails first; newly shut there: right third finger hole." in found.hints
    low = make_diagnosis("flute", "C4", "C#4", "D4", "Eb4", "E4", level="concert")
    assert any("E4 fails first; newly shut there: E pad" in hint for hint in low.hints)


def test_one_bad_note_with_good_ones_below_is_a_sticky_key():
    found = make_diagnosis("sax_alto", "G#4", level="first_year")
    assert any("sticky or bent key" in hint for hint in found.hints)


def test_the_upper_register_alone_points_to_the_vent():
    upper = [
        note for note in make_report("sax_alto").notes if note.sounding >= make_report("sax_alto").notes[12].sounding
    ]
    names = [note.written for note in upper]
    found = make_diagnosis("sax_alto", *names)
    assert any("vent" in hint for hint in found.hints)


def test_everything_bad_points_to_the_top():
    names = [note.written for note in make_report("trumpet").notes]
    found = make_diagnosis("trumpet", *names)
    assert found.hints[0].startswith("Everything fails")
    assert found.suspects[0].rank == 1


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


def test_the_short_form_gives_the_suspects_alone():
    short = suspects(
        kind=KINDS["trumpet"],
        chart=make_chart("trumpet"),
        options={},
        failed=["D4"],
        faults=CATALOG.faults,
        roles=CATALOG.roles,
    )
    assert short == make_diagnosis("trumpet", "D4").suspects
