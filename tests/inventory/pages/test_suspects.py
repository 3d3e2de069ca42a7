from __future__ import annotations

import pytest

from inventory.catalog.charts import chart_of
from inventory.catalog.load import catalog
from inventory.models import PlayTest
from inventory.pages.suspects import fault_words, grouped, owner, spot_name, spots_of, without_place
from inventory.rules.playing import level_notes
from inventory.services.care import record_play_test
from tests.factories import NOW, make_ready_instrument
from tests.inventory.rules.cases import make_diagnosis, make_kind


def failed(instrument, tech, *notes: str) -> PlayTest:
    return record_play_test(instrument=instrument, result="fail", failed_notes=notes, actor=tech, at=NOW)


def test_a_test_that_failed_no_note_has_no_suspect(school, tech):
    instrument = make_ready_instrument(school=school)
    test = record_play_test(instrument=instrument, result="pass", actor=tech, at=NOW)
    assert spots_of(test, instrument) is None
    assert spots_of(None, instrument) is None


def test_faults_at_one_spot_stand_together_each_with_its_test(school, tech):
    instrument = make_ready_instrument(school=school, kind_code="clarinet_bb")
    found = spots_of(failed(instrument, tech, "E3", "F3"), instrument, most=50)
    places = [spot["where"] for spot in found["spots"]]
    assert len(places) == len(set(places))
    assert len(found["spots"][0]["faults"]) > 1
    assert all(test for spot in found["spots"] for _, test in spot["faults"])
    assert [spot["rank"] for spot in found["spots"]] == sorted(spot["rank"] for spot in found["spots"])


def test_no_suspect_is_dropped_but_the_weaker_faults_of_a_spot():
    kind, diagnosis = make_kind("clarinet_bb"), make_diagnosis("clarinet_bb", "E3", "F3")
    spots = grouped(diagnosis, kind=kind)
    owners = {tuple(owner(kind, part=c.part, place=c.place) for c in one.causes) for one in diagnosis.suspects}
    assert len(spots) == len(owners)
    named = {(spot["where"], name) for spot in spots if spot["rank"] == 1 for name, _ in spot["faults"]}
    first = [one for one in diagnosis.suspects if one.rank == 1]
    assert {fault_words(one) for one in first} == {name for _, name in named}


def test_a_spring_or_a_tone_hole_stands_with_the_pad_of_its_place():
    kind, diagnosis = make_kind("clarinet_bb"), make_diagnosis("clarinet_bb", "E3", "F3")
    assert {one.part for one in diagnosis.suspects} >= {"tone_holes", "lower_keys"}
    assert "tone_holes" not in {spot["part"] for spot in grouped(diagnosis, kind=kind)}
    assert owner(kind, part="tone_holes", place="F_C_pad") == ("lower_keys", "F_C_pad")
    assert owner(kind, part="tone_holes", place="") == ("tone_holes", "")


def parting(school, tech, kind_code: str, *notes: str, tried=(), weak=()) -> str:
    instrument = make_ready_instrument(school=school, kind_code=kind_code)
    test = record_play_test(
        instrument=instrument, result="fail", failed_notes=notes, weak_notes=weak, tried_notes=tried, actor=tech, at=NOW
    )
    return spots_of(test, instrument)["parting"]


@pytest.mark.parametrize(
    ("kind_code", "notes", "says"),
    [
        # The register vent takes all of the second register, the lowest pad its lowest note.
        ("clarinet_bb", ["B4"], "play C♯5. If it is bad: register vent. If it is good: E/B pad or F/C pad."),
        (
            "trumpet",
            ["G4", "C5"],
            "play A♭3. If it is bad: pistons, valve 1 or valve casings, valve 1 or finger buttons and stems, valve 1 or ",
        ),
        # Four pads, of which three are shown: all four are told apart.
        (
            "flute",
            ["F4", "F#4", "G4", "G#4"],
            "play F6. If it is bad: E pad or F♯ pad. If it is good: F pad or G♯ pad.",
        ),
        (
            "flute",
            ["F4"],
            "2 spots explain these notes equally well. No other note tells them apart. Begin at the E pad (",
        ),
        (
            "trombone",
            ["B2"],
            "6 spots explain these notes equally well. No test tells them apart. This one finds each of",
        ),
        (
            "sax_alto",
            ["C5"],
            "2 spots explain these notes equally well. No other note tells them apart. Begin at the B pad",
        ),
        ("horn_double", ["Ab4", "C#5"], "Then the rotors, valve 3 and the rotor caps and bearings, valve 3 explain"),
        ("trumpet", ["Eb4", "Ab4"], "One test tells 4 of them from the rest: Press off-center"),
        ("sax_alto", ["G#4"], ""),  # the three shown explain differently well
    ],
)
def test_what_explains_equally_well_is_parted_by_one_test_or_said_not_to_be(school, tech, kind_code, notes, says):
    said = parting(school, tech, kind_code, *notes)
    assert says in said
    assert bool(said) is bool(says)


@pytest.mark.parametrize("kind_code", ["flute", "clarinet_bb", "sax_alto", "trumpet", "trombone", "horn_double"])
def test_suspects_that_tie_are_never_left_without_a_word(school, tech, kind_code):
    kind = catalog().kinds[kind_code]
    instrument = make_ready_instrument(school=school, kind_code=kind_code)
    for note in level_notes(kind=kind, chart=chart_of(kind, {}), level="first_year")[::4]:
        found = spots_of(failed(instrument, tech, note), instrument)
        ranks = [spot["rank"] for spot in found["spots"]]
        assert bool(found["parting"]) is (len(set(ranks)) < len(ranks)), note


@pytest.mark.parametrize(
    ("kind_code", "notes", "count"),
    [("flute", ["F4", "F#4", "G4", "G#4"], 4), ("trumpet", ["Eb5", "E5"], 13), ("trumpet", ["G4", "C5"], 10)],
)
def test_a_note_that_parts_names_every_spot_in_first_place(school, tech, kind_code, notes, count):
    instrument = make_ready_instrument(school=school, kind_code=kind_code)
    found = spots_of(failed(instrument, tech, *notes), instrument, most=500)
    first = [spot["where"] for spot in found["spots"] if spot["rank"] == found["spots"][0]["rank"]]
    said = parting(school, tech, kind_code, *notes)
    assert said.startswith(f"{count} spots explain these notes equally well. To tell them apart, play ")
    assert len(first) == count
    assert [where for where in first if where not in said] == []


def test_a_spot_is_called_by_its_place_where_only_one_part_has_it():
    clarinet, trumpet = catalog().kinds["clarinet_bb"], catalog().kinds["trumpet"]
    assert spot_name(clarinet, part="lower_keys", place="E_B_pad") == "E/B pad"
    assert spot_name(trumpet, part="piston", place="2") == "pistons, valve 2"
    assert spot_name(trumpet, part="leadpipe", place="") == "leadpipe"


def test_a_fault_says_what_it_would_have_to_be_like():
    diagnosis = make_diagnosis("trombone", "B2")
    assert fault_words(diagnosis.suspects[0]).endswith("(stops at position 6)")
    sax = make_diagnosis("sax_alto", "C5")
    assert "out of regulation (link to L2)" in {fault_words(one) for one in sax.suspects if one.rank == 1}


def test_weak_notes_alone_have_suspects_too(school, tech):
    instrument = make_ready_instrument(school=school, kind_code="clarinet_bb")
    test = record_play_test(
        instrument=instrument, result="limits", limits_text="low notes", weak_notes=["E3", "F3"], actor=tech, at=NOW
    )
    assert spots_of(test, instrument)["failed"] == ("E3", "F3")


@pytest.mark.parametrize("most", [1, 3])
def test_what_is_not_shown_is_counted(school, tech, most):
    instrument = make_ready_instrument(school=school, kind_code="clarinet_bb")
    test = failed(instrument, tech, "E3", "F3")
    whole = spots_of(test, instrument, most=500)
    some = spots_of(test, instrument, most=most)
    assert len(some["spots"]) + some["more"] == len(whole["spots"])


def test_notes_that_the_chart_has_not_any_more_name_nobody(school, tech):
    instrument = make_ready_instrument(school=school)
    test = failed(instrument, tech, "D4")
    test.failed_notes = ["H9"]
    assert spots_of(test, instrument) is None


def test_a_test_is_told_without_the_name_above_it():
    assert without_place("Tone holes, F pad: look: twice.", wheres=["tone holes, F pad"]) == "look: twice."
    assert without_place("Upper stack: B, A, B pad: look.", wheres=["upper stack: B, A, B pad"]) == "look."
    assert without_place("A: b. C: d.", wheres=["a", "c"]) == "A: b. C: d."
