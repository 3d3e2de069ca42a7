import random
import re
from collections.abc import Iterator

import pytest

from inventory.catalog.chart_schema import HoleChart
from inventory.catalog.schema import FaultWay
from inventory.rules.diagnose import Diagnosis
from inventory.rules.notes import unsigned
from tests.inventory.rules.cases import (
    CATALOG,
    KINDS,
    WITH_NOTES,
    make_chart,
    make_diagnosis,
    make_report,
    surveyed,
)

ONE_OF_EACH_CHART = tuple({make_chart(code) and make_chart(code).code: code for code in WITH_NOTES}.values())


def test_going_down_the_first_note_to_fail_names_the_leak():
    """Trade: look at the pads newly shut at the highest note that turns fuzzy."""
    found = make_diagnosis("clarinet_bb", "E3", "F3", "F#3", "G3", "G#3", "B4", "C5", level="first_year")
    assert found.suspects[0].place == "R3_hole"
    assert "Going down, G♯3 fails first; newly shut there: right third finger hole." in found.hints
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
    assert (
        found.hints[0] == "All of the upper register and nothing below: the player and the reed first, then the vent."
    )
    assert not any("vent" in hint for hint in make_diagnosis("sax_alto", *names[1:]).hints)


def test_everything_bad_points_to_the_top():
    names = [note.written for note in make_report("trumpet").notes]
    found = make_diagnosis("trumpet", *names)
    assert (
        found.hints[0] == "Everything fails: look first where all the air passes, and at the mouthpiece and the player."
    )
    assert found.suspects[0].rank == 1


def test_of_the_notes_played_only_the_neighbors_count():
    """Going down a scale the newly shut holes are those since the last note that was played and spoke."""
    whole = make_diagnosis("clarinet_bb", "E3")
    scale = make_diagnosis("clarinet_bb", "E3", tried=["E3", "G3", "A3"])
    assert whole.hints[0].endswith("newly shut there: E/B pad.")
    assert scale.hints[0].endswith("newly shut there: F/C pad, F♯/C♯ pad, E/B pad.")


def test_one_note_alone_is_not_everything():
    assert not any("Everything" in hint for hint in make_diagnosis("flute", "A4", tried=["A4"]).hints)


def test_the_lowest_note_alone_is_no_sign_of_a_sticky_key():
    assert not any("sticky" in hint for hint in make_diagnosis("clarinet_bb", "E3").hints)
    assert not any("sticky" in hint for hint in make_diagnosis("sax_alto", "G#4", "A4").hints)


def test_failed_notes_name_the_valves_they_share():
    """Standard fingerings: D4 13, Eb4 23, A4 12, Bb4 1; open C4, G4, C5."""
    said = "Every failed note is usually played with valve"
    assert f"{said} 3." in make_diagnosis("trumpet", "D4", "Eb4").hints
    assert f"{said} 1 and 3." in make_diagnosis("trumpet", "D4", "C#4", tried=["C#4", "D4", "G4"]).hints
    assert f"{said} 3." in make_diagnosis("trumpet", "D4", "C#4").hints  # all else that needs the first spoke
    assert not any(said in hint for hint in make_diagnosis("trumpet", "Eb4", "Bb4").hints)
    assert not any(said in hint for hint in make_diagnosis("trumpet", "D4").hints)


def test_open_notes_alone_point_to_what_they_all_pass():
    said = "Only open notes fail"
    assert any(said in hint for hint in make_diagnosis("trumpet", "G4", "C5").hints)
    assert not any(said in hint for hint in make_diagnosis("trumpet", "G4", "B4").hints)
    assert not any(said in hint for hint in make_diagnosis("trumpet", "G4").hints)


def test_only_an_instrument_with_a_reed_is_asked_about_its_reed():
    for code, player in (("clarinet_bb", "the player and the reed."), ("flute", "the player.")):
        names = [note.written for note in make_report(code).notes]
        assert make_diagnosis(code, *names).hints[0].endswith(player)
    bars = [note.written for note in make_report("bell_kit").notes]
    assert make_diagnosis("bell_kit", *bars).hints == ("Everything fails: look first at what carries all the bars.",)


@pytest.mark.parametrize(
    ("code", "failed", "is_high"),
    [
        ("trumpet", ("D5", "E5"), True),  # 20 notes from A3: from the 15th on
        ("trumpet", ("B4", "D5"), True),
        ("trumpet", ("Bb4", "D5"), False),
        ("trombone", ("D4",), True),
        ("flute", ("A5", "C6"), True),
        ("bell_kit", ("C6",), False),  # nobody blows
    ],
)
def test_high_notes_alone_ask_for_the_player_first(code, failed, is_high):
    found = make_diagnosis(code, *failed, level="first_year").hints
    assert (bool(found) and found[0] == "Only high notes fail: the player first.") is is_high


def test_a_leak_is_not_read_from_a_note_below_which_all_speak():
    """The descending rule: what leaks at the first note to fail spoils the next one down as well."""
    assert not any("newly shut" in hint for hint in make_diagnosis("clarinet_bb", "Eb4").hints)
    assert any("newly shut" in hint for hint in make_diagnosis("clarinet_bb", "Eb4", "D4").hints)
    assert any("newly shut" in hint for hint in make_diagnosis("clarinet_bb", "E3").hints)  # nothing lies below
    assert any("newly shut" in hint for hint in make_diagnosis("sax_alto", "D4", "C5", level="concert").hints) is False


def test_hints_name_the_valves_of_the_instrument_itself():
    """C3 and B2 of a bass-clef euphonium: 1 and 3, 1 2 3 on three valves, the fourth, 2 and 4 on four (common practice)."""
    said = "Every failed note is usually played with"
    assert f"{said} valve 4." in make_diagnosis("euphonium", "C3", "B2").hints
    assert f"{said} valve 3." in make_diagnosis("euphonium", "C3", "B2", options={"valves": "3"}).hints
    thumb = [
        note.written for note in make_report("horn_double", level="concert").notes if note.fingering.startswith("T")
    ]
    assert any("the thumb valve" in hint for hint in make_diagnosis("horn_double", *thumb, level="concert").hints)


STAY_SHUT = {"pad_sticky", "key_binding", "spring_broken", "vent_clogged", "missing_part"}
ORDINALS = {"1": "first", "2": "second", "3": "third", "4": "fourth"}


def stands_by(hint: str, code: str, found: Diagnosis) -> bool:
    """Return whether the suspects in first place say so, too. AssertionError for a sentence that this does not know."""
    chart, first = make_chart(code), [one for one in found.suspects if one.rank == 1]
    causes = [cause for one in first for cause in one.causes]
    if hint.startswith("Going down"):
        holes = {hole.name or hole.id: hole.id for hole in chart.holes}
        named = {holes[unsigned(name)] for name in hint.removesuffix(".").split("newly shut there: ")[1].split(", ")}
        return named <= {cause.place for cause in causes} | {chart.joints.get(one.part, one.part) for one in causes}
    if "likelier than a leak" in hint:
        return causes[0].fault in STAY_SHUT and FaultWay.LEAKS not in CATALOG.faults[causes[0].fault].ways
    if hint.startswith("Every failed note is usually played with"):
        wanted = [*re.findall(r"\d", hint), *(["thumb"] if "thumb" in hint else [])]
        return all(
            any(one.place == valve or one.part.startswith(ORDINALS.get(valve, valve)) for one in causes)
            for valve in wanted
        )
    if hint.startswith("Only open notes"):
        return any(one.detail == "down" or one.part == "valve_spring" for one in causes)
    if hint.startswith("All of the upper register"):
        return "vent" not in hint or any("vent" in one.place or "octave" in one.place for one in causes)
    if hint.startswith("Everything fails"):
        return not any(one.unexplained for one in first)
    assert hint.startswith("Only high notes fail: the player")  # names no part
    return True


def bad_notes(code: str, level: str, *, draws: random.Random, most: int) -> Iterator[tuple[str, ...]]:
    """Notes that may fail in one test: what one fault spoils, one note, all to one side of it, one register, any."""
    chart, names = make_chart(code), [note.written for note in make_report(code, level=level).notes]
    spoiled = sorted({tuple(sorted(one.notes)) for one in surveyed(code, level).predictions})
    yield tuple(names)
    for _ in range(most):
        at = draws.randrange(len(names))
        yield (names[at],)
        yield tuple(names[: at + 1])
        yield tuple(names[at:])
        if isinstance(chart, HoleChart):
            register = [chart.fingerings[name][0].register for name in names]
            yield tuple(name for name, its in zip(names, register, strict=True) if its == register[at])
            yield tuple(name for name, its in zip(names[: at + 1], register, strict=False) if its == register[at])
        yield draws.choice(spoiled)
        yield tuple(draws.sample(names, draws.randint(1, 6)))


def disagreements(code: str, level: str, *, most: int) -> list[tuple[str, ...]]:
    found = [
        (make_diagnosis(code, *failed, level=level), failed)
        for failed in bad_notes(code, level, draws=random.Random(f"{code} {level}"), most=most)
    ]
    assert any(one.hints for one, _ in found)
    return [(hint, *failed) for one, failed in found for hint in one.hints if not stands_by(hint, code, one)]


@pytest.mark.parametrize("code", ONE_OF_EACH_CHART[::4])
def test_what_a_hint_names_is_among_the_suspects_in_first_place(code):
    assert disagreements(code, next(iter(KINDS[code].levels)), most=3) == []


@pytest.mark.drill
@pytest.mark.parametrize("code", WITH_NOTES)
def test_hints_and_suspects_agree_on_every_kind_and_level(code):
    assert [told for level in KINDS[code].levels for told in disagreements(code, level, most=25)] == []


def test_where_no_suspect_bears_a_rule_of_thumb_out_it_is_not_said():
    """A flute whose F4 alone fails: a leaking F pad, newly shut there, would have spoiled D5 to F5, which spoke."""
    found = make_diagnosis("flute", "F4", level="first_year")
    assert not any("F pad" in hint for hint in found.hints)
    assert "F_pad" not in {one.place for one in found.suspects if one.rank == 1}


def test_a_hint_writes_sharps_and_flats_as_the_page_does():
    assert all("♯" in hint for hint in make_diagnosis("sax_alto", "G#4").hints)


def test_what_an_instrument_is_off_at_by_its_make_is_explained_by_what_silences_it():
    """G3 and F#3 of a flugelhorn are sharp by themselves; with everything else they are silent, too."""
    names = [note.written for note in make_report("flugelhorn", level="concert").notes]
    assert not make_diagnosis("flugelhorn", *names, level="concert").suspects[0].unexplained
