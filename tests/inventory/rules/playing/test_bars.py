import pytest

from inventory.catalog.schema import Effect, Part, Severity
from inventory.rules.facts import Detail, FindingFact
from inventory.rules.playing.bars import BarModel, bar_midi
from inventory.rules.playing.readings import Reading
from tests.inventory.rules.cases import make_report, states


def test_a_cracked_bar_loses_its_note_alone():
    report = make_report("bell_kit", "bars_naturals_C5:bar_cracked:severe")
    assert report.lost == ("C5",)
    assert len(report.notes) == 27
    assert report.notes[0].sounding == 58 + 24


@pytest.mark.parametrize("text", ["bars_accidentals_Fs4", "bars_accidentals_F#4", "bars_accidentals_Gb4"])
def test_a_black_bar_goes_by_either_name(text):
    assert states(make_report("marimba", f"{text}:bar_cracked:severe", level="second_year"))["F#4"] == "lost"


def test_a_cord_that_gave_way_takes_no_bar_but_weakens_all():
    report = make_report("bell_kit", "bar_cord:cord_frayed:severe")
    assert report.lost == ()
    assert len(report.off) == 27
    assert report.functions_lost == ("the bars, which do not hang free",)


@pytest.mark.parametrize(
    ("kind", "finding", "function"),
    [
        ("snare_kit", "snare_wires:snare_wires_bad:severe", "the snares"),
        ("snare_kit", "strainer:strainer_fail:severe", "throwing the snares on and off"),
        ("snare_kit", "batter_head:head_worn:severe", "the batter head"),
        ("timpani_set", "pedal_29:pedal_creep:severe", "changing pitch by pedal"),
        ("violin", "strings_II:string_broken:light", "the second string"),
    ],
)
def test_a_drum_or_string_loses_the_function_of_its_part(kind, finding, function):
    report = make_report(kind, finding)
    assert report.functions_lost == (function,)
    assert report.notes == ()
    assert report.tuning_range is None


def test_a_light_finding_takes_no_function():
    assert make_report("snare_kit", "snare_wires:snare_wires_bad:light").functions_lost == ()


def test_bar_codes():
    assert bar_midi("Cs5") == bar_midi("C#5") == bar_midi("Db5") == 73


def make_reading(effect: Effect, *, code: str = "frame", role: str = "frame") -> Reading:
    finding = FindingFact(part=code, fault="loose", severity=Severity.SEVERE)
    return Reading(
        index=3, finding=finding, part=Part(code, code, role), effects=(effect,), valve="", side="", detail=Detail()
    )


def test_a_part_that_is_no_bar_takes_all_bars_or_none():
    stops, loses = (
        BarModel(readings=[make_reading(effect)], low="C5", high="E5")
        for effect in (Effect.STOPS_SOUND, Effect.LOSES_NOTES)
    )
    assert [stops.ways(note)[0].blockers for note in stops.notes()] == [(3,)] * 5
    assert [loses.ways(note)[0].because for note in loses.notes()] == [()] * 5


@pytest.mark.parametrize(
    ("code", "lost"), [("bars_accidentals", ["C#5", "Eb5"]), ("bars_naturals", ["C5", "D5", "E5"])]
)
def test_a_row_without_places_is_its_own_keys(code, lost):
    model = BarModel(readings=[make_reading(Effect.LOSES_NOTES, code=code, role="bar")], low="C5", high="E5")
    assert [note for note in model.notes() if model.ways(note)[0].blockers] == lost
    bent = BarModel(readings=[make_reading(Effect.BENDS_PITCH, code=code, role="bar")], low="C5", high="E5")
    assert [note for note in bent.notes() if bent.ways(note)[0].leaks] == lost
