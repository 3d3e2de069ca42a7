import pytest

from tests.inventory.rules.cases import make_diagnosis, make_report


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
    assert scale.hints[0].endswith("newly shut there: F/C pad, F#/C# pad, E/B pad.")


def test_one_note_alone_is_not_everything():
    assert not any("Everything" in hint for hint in make_diagnosis("flute", "A4", tried=["A4"]).hints)


def test_the_lowest_note_alone_is_no_sign_of_a_sticky_key():
    assert not any("sticky" in hint for hint in make_diagnosis("clarinet_bb", "E3").hints)
    assert not any("sticky" in hint for hint in make_diagnosis("sax_alto", "G#4", "A4").hints)


def test_failed_notes_name_the_valves_they_share():
    """Standard fingerings: D4 13, Eb4 23, A4 12, Bb4 1; open C4, G4, C5."""
    said = "Every failed note is usually played with valve"
    assert f"{said} 3." in make_diagnosis("trumpet", "D4", "Eb4").hints
    assert f"{said} 1 and 3." in make_diagnosis("trumpet", "D4", "C#4").hints
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
    assert f"{said} valve 1 and 3." in make_diagnosis("euphonium", "C3", "B2", options={"valves": "3"}).hints
    thumb = [
        note.written for note in make_report("horn_double", level="concert").notes if note.fingering.startswith("T")
    ]
    assert any("the thumb valve" in hint for hint in make_diagnosis("horn_double", *thumb, level="concert").hints)
