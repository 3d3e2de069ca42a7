"""What holds for every kind, whatever its model."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from inventory.rules.pitch import midi_of
from inventory.rules.playing import NoteState, level_notes, level_span, uncharted
from tests.inventory.rules.cases import CATALOG, KINDS, WITH_NOTES, make_chart, make_report


@st.composite
def findings_of(draw, code):
    part = draw(st.sampled_from(KINDS[code].parts))
    return FindingFact(
        part=part.code,
        fault=draw(st.sampled_from(CATALOG.roles[part.role].faults)),
        severity=draw(st.sampled_from(list(Severity))),
        place=draw(st.sampled_from([place.code for place in part.places] or [""])),
        detail=draw(st.sampled_from(["", "", "down", "slow"])),
    )


@pytest.mark.parametrize("code", KINDS)
def test_a_sound_instrument_plays_every_note_of_every_level(code):
    for level in KINDS[code].levels:
        report = make_report(code, level=level)
        bad = [note for note in report.notes if note.state is not NoteState.USUAL]
        # An instrument whose third slide no player can move is sharp there by its make.
        assert all(note.state is NoteState.OFF and note.fingering in {"13", "123"} for note in bad)
        assert not bad or any(
            option.code == "third_slide" and option.default == "none" for option in KINDS[code].options
        )


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_adding_a_fault_never_gives_a_note_back(data):
    code = data.draw(st.sampled_from(WITH_NOTES))
    some = data.draw(st.lists(findings_of(code), max_size=3))
    more = data.draw(findings_of(code))
    level = data.draw(st.sampled_from(sorted(KINDS[code].levels)))
    before = make_report(code, *some, level=level)
    after = make_report(code, *some, more, level=level)
    for one, other in zip(before.notes, after.notes, strict=True):
        assert other.state.rank >= one.state.rank
    assert set(before.functions_lost) <= set(after.functions_lost)


@given(st.data())
@settings(max_examples=60, deadline=None)
def test_repairing_everything_restores_every_note(data):
    code = data.draw(st.sampled_from(WITH_NOTES))
    findings = data.draw(st.lists(findings_of(code), min_size=1, max_size=4))
    healthy = make_report(code)
    hurt = make_report(code, *findings)
    while findings:
        findings.pop()
        repaired = make_report(code, *findings)
        assert all(
            mended.state.rank <= before.state.rank for mended, before in zip(repaired.notes, hurt.notes, strict=True)
        )
        hurt = repaired
    assert hurt == healthy


@given(st.data())
@settings(max_examples=80, deadline=None)
def test_a_note_that_suffers_names_the_findings_that_hurt_it(data):
    code = data.draw(st.sampled_from(WITH_NOTES))
    findings = data.draw(st.lists(findings_of(code), min_size=1, max_size=3))
    healthy = {note.written: note.state for note in make_report(code).notes}
    for note in make_report(code, *findings).notes:
        if note.state is not healthy[note.written]:
            assert note.because
        assert set(note.because) <= set(range(len(findings)))
        assert (note.cents is None) == (note.state is NoteState.LOST)
        assert bool(note.fingering) == (note.state is not NoteState.LOST)


@pytest.mark.parametrize("code", WITH_NOTES)
def test_a_level_asks_for_ascending_notes_inside_its_range(code):
    for level in KINDS[code].levels:
        notes = level_notes(kind=KINDS[code], chart=make_chart(code), level=level)
        low, high = KINDS[code].levels[level]
        numbers = [midi_of(note) for note in notes]
        assert numbers == sorted(set(numbers))
        assert midi_of(low) <= numbers[0] <= numbers[-1] <= midi_of(high)
        assert numbers == list(range(numbers[0], numbers[-1] + 1))


@pytest.mark.parametrize("code", [code for code in WITH_NOTES if KINDS[code].first_year])
def test_the_chart_has_every_note_of_the_first_year(code):
    low, high = KINDS[code].first_year
    assert len(make_report(code).notes) == midi_of(high) - midi_of(low) + 1


def test_a_kind_without_a_first_year_is_judged_by_its_first_level():
    assert level_span(KINDS["sousaphone"], level="first_year") == KINDS["sousaphone"].levels["marching"]
    with pytest.raises(KeyError):
        level_span(KINDS["trumpet"], level="fourth_year")


def test_a_treble_clef_euphonium_reads_like_a_trumpet():
    bass = make_report("euphonium", "piston_1:valve_stuck:severe", options={"clef": "bass", "valves": "3"})
    treble = make_report("euphonium", "piston_1:valve_stuck:severe", options={"clef": "treble", "valves": "3"})
    assert [note.sounding for note in treble.notes] == [note.sounding for note in bass.notes]
    assert [note.state for note in treble.notes] == [note.state for note in bass.notes]
    assert treble.notes[0].written == "B3"


@pytest.mark.parametrize(("key", "low"), [("CC", "B1"), ("Eb", "D2"), ("F", "E2")])
def test_a_tuba_in_another_key_has_fingerings_of_its_own(key, low):
    report = make_report("tuba", options={"key": key, "valves": "3"})
    assert {note.written: note.fingering for note in report.notes}[low] == "2" if key != "CC" else "2"
    assert report.lost == ()


def test_woodwind_fingerings_are_marked_as_unverified():
    assert not make_report("oboe").verified
    assert make_report("trumpet").verified


def test_notes_of_a_range_without_a_fingering_are_named():
    oboe = make_chart("oboe")
    short = replace(oboe, fingerings={note: made for note, made in oboe.fingerings.items() if note[-1] != "6"})
    assert uncharted(kind=KINDS["oboe"], chart=short, level="concert") == ("C6", "C#6", "D6")
    assert uncharted(kind=KINDS["flute"], chart=make_chart("flute"), level="concert") == ()
    assert uncharted(kind=KINDS["snare_kit"], chart=None, level="first_year") == ()


def test_a_treble_clef_part_is_charted_where_it_is_written():
    clef = {"clef": "treble"}
    chart = make_chart("euphonium", clef)
    assert uncharted(kind=KINDS["euphonium"], chart=chart, level="concert") == ()


def test_an_instrument_in_c_sounds_as_it_is_written():
    notes = {note.written: note.sounding for note in make_report("flute", level="concert").notes}
    assert notes["C4"] == 60
    assert notes["A4"] == 69


def test_what_hangs_the_bars_reaches_the_lowest_and_the_highest():
    states = {note.written: note.state for note in make_report("bell_kit", "bar_cord:cord_frayed:severe").notes}
    assert set(states.values()) == {NoteState.OFF}
