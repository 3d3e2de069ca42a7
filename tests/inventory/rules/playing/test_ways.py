import pytest

from inventory.rules.playing.reports import NoteResult, NoteState
from inventory.rules.playing.ways import Harm, Trouble, Way, indexes, note_result

OPEN = Way("0")


def result(*ways: Way, usual: str = "12", standard_only: bool = False) -> NoteResult:
    return note_result("E4", sounding=62, ways=ways, usual=usual, standard_only=standard_only)


def test_the_usual_way_is_taken_though_it_stands_last():
    found = result(Way("3"), Way("12", cents=10.6))
    assert (found.state, found.fingering, found.cents, found.because) == (NoteState.USUAL, "12", 10.6, ())
    assert (found.written, found.sounding, found.is_weak) == ("E4", 62, False)


def test_the_first_other_way_stands_in_and_names_what_blocks_the_usual_one():
    found = result(Way("3"), Way("123", blockers=(9,)), Way("12", blockers=(4,), leaks=(2,)))
    assert (found.state, found.fingering, found.because) == (NoteState.OTHER_FINGERING, "3", (2, 4))


def test_where_the_usual_way_is_not_to_be_had_all_findings_are_named():
    found = result(Way("3"), Way("123", blockers=(9,)), usual="4")
    assert (found.state, found.because) == (NoteState.OTHER_FINGERING, (9,))


def test_a_good_way_goes_before_a_usual_one_that_leaks():
    assert result(Way("12", leaks=(0,)), Way("3")).fingering == "3"


def test_without_a_good_way_the_usual_one_is_off_and_weak_by_all_that_is_in_the_way():
    found = result(Way("3", leaks=(1,)), Way("12", leaks=(0,)))
    assert (found.state, found.fingering, found.because, found.is_weak) == (NoteState.OFF, "12", (0, 1), True)


def test_a_way_that_no_slide_puts_in_tune_is_off_but_not_weak():
    found = result(Way("12", cents=40, is_in_tune=False, detuners=(3,)))
    assert (found.state, found.cents, found.because, found.is_weak) == (NoteState.OFF, 40, (3,), False)


def test_a_note_is_lost_when_every_way_is_blocked():
    found = result(Way("12", blockers=(1,)), Way("3", blockers=(0, 1)))
    assert (found.state, found.fingering, found.cents, found.because) == (NoteState.LOST, "", None, (0, 1))


def test_what_is_too_far_off_does_not_stand_in_but_stays_what_it_is_as_the_usual_way():
    far = {"cents": 80, "is_in_tune": False, "is_makeshift": False}
    assert result(Way("12", blockers=(0,)), Way("3", **far)).state is NoteState.LOST
    assert result(Way("12", **far)).state is NoteState.OFF


def test_with_standard_fingerings_alone_nothing_stands_in():
    assert result(Way("3"), Way("12", blockers=(0,)), standard_only=True).state is NoteState.LOST


@pytest.mark.parametrize(
    ("trouble", "pressed", "side", "concerns"),
    [
        (Trouble(0, Harm.SILENCES), set(), "", True),  # of no valve: always
        (Trouble(0, Harm.HOLDS, valve="2"), {"1", "2"}, "", True),
        (Trouble(0, Harm.HOLDS, valve="2"), {"1"}, "", False),
        (Trouble(0, Harm.HOLDS, valve="2", while_down=False), {"1"}, "", True),
        (Trouble(0, Harm.LEAKS, valve="2", side="F"), {"2"}, "F", True),
        (Trouble(0, Harm.LEAKS, valve="2", side="F"), {"2"}, "Bb", False),
    ],
)
def test_a_finding_on_a_valve_matters_only_as_the_valve_stands(trouble, pressed, side, concerns):
    assert trouble.concerns(pressed, side=side) is concerns


def test_findings_are_picked_by_what_they_do():
    troubles = [Trouble(3, Harm.LEAKS), Trouble(5, Harm.HOLDS), Trouble(7, Harm.SILENCES)]
    assert indexes(troubles, Harm.HOLDS, Harm.SILENCES) == (5, 7)
