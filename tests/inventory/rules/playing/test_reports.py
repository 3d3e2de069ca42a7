from dataclasses import replace

import pytest

from inventory.rules.playing.reports import NoteResult, NoteState, PlayingReport, TuningRange


def make_note(written: str, state: NoteState) -> NoteResult:
    return NoteResult(written=written, sounding=60, state=state, fingering="0", cents=0.0)


def test_a_report_counts_what_is_lost_and_off():
    notes = (
        make_note("C4", NoteState.USUAL),
        make_note("D4", NoteState.LOST),
        make_note("E4", NoteState.OFF),
        make_note("F4", NoteState.OTHER_FINGERING),
    )
    report = PlayingReport(level="first_year", notes=notes, tuning_range=None, functions_lost=())
    assert (report.lost, report.off, report.lost_share) == (("D4",), ("E4",), 0.25)
    assert [note.is_spoiled for note in notes] == [False, True, True, False]


def test_states_stand_from_best_to_worst():
    assert [state.rank for state in NoteState] == [0, 1, 2, 3]


def test_no_notes_lose_no_share():
    assert PlayingReport(level="first_year", notes=(), tuning_range=None, functions_lost=()).lost_share == 0


@pytest.mark.parametrize(
    ("stands", "words"),
    [
        (0.6, "stands 1 cents sharp and cannot be tuned to A = 440"),
        (-28.4, "stands 28 cents flat and cannot be tuned to A = 440"),
    ],
)
def test_an_instrument_that_cannot_be_tuned_says_where_it_stands(stands, words):
    tuning = TuningRange(stands_cents=stands, up_cents=0, down_cents=0, can_reach_a440=False)
    report = PlayingReport("first_year", (), tuning, ())
    assert tuning.words == report.mistuning == words
    assert replace(tuning, can_reach_a440=True).words == ""
    assert PlayingReport("first_year", (), None, ()).mistuning == ""
