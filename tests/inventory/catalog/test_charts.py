from itertools import pairwise

import pytest
import yaml

from inventory.catalog.chart_schema import Backing, BrassChart, HoleChart
from inventory.catalog.charts import FOLDER, chart_of, charts, combo, load_charts, missing_charts
from inventory.catalog.load import CatalogError, Problem, catalog
from inventory.rules.pitch import midi_of, name_of
from tests.inventory.catalog.published import (
    FLICKED,
    FLICKS,
    PUBLISHED_WOODWINDS,
    TOUCHES,
    backing,
    chart_named,
    our_touches,
    published,
)
from tests.inventory.rules.cases import KINDS, WITH_NOTES

# Standard trumpet fingering as printed at thewholehorn.com, 31 notes from F#3.
PUBLISHED_TRUMPET = [
    "123",
    "13",
    "23",
    "12",
    "1",
    "2",
    "0",
    "123",
    "13",
    "23",
    "12",
    "1",
    "2",
    "0",
    "23",
    "12",
    "1",
    "2",
    "0",
    "12",
    "1",
    "2",
    "0",
    "1",
    "2",
    "0",
    "23",
    "12",
    "1",
    "2",
    "0",
]
WOODWINDS = [code for code in WITH_NOTES if KINDS[code].model == "holes"]


def test_trumpet_fingerings_are_the_published_ones():
    chart = charts()["trumpet"]
    assert list(chart.usual.values()) == PUBLISHED_TRUMPET
    assert [midi_of(note) for note in chart.usual] == list(range(54, 85))


def test_trumpet_fingerings_follow_from_the_open_notes():
    """Independent derivation: from the open note at or above, the smallest drop of 0 to 6 semitones."""
    opens, drops = [60, 67, 72, 76, 79, 84], ["0", "2", "1", "12", "23", "13", "123"]
    derived = [drops[min(note - midi for note in opens if note >= midi)] for midi in range(54, 85)]
    assert list(charts()["trumpet"].usual.values()) == derived


@pytest.mark.parametrize("code", [code for code, chart in charts().items() if isinstance(chart, BrassChart)])
def test_every_brass_chart_ascends_without_a_gap(code):
    numbers = [midi_of(note) for note in charts()[code].usual]
    assert numbers == sorted(numbers)
    assert {high - low for low, high in pairwise(numbers)} <= {1, 2}


@pytest.mark.parametrize("code", WITH_NOTES)
def test_a_kind_with_pitched_keys_has_a_chart(code):
    assert (chart_of(KINDS[code], {}) is None) is (KINDS[code].model == "bars")


@pytest.mark.parametrize("code", WOODWINDS)
def test_every_hole_is_a_place_of_exactly_one_part(code):
    chart = chart_of(KINDS[code], {})
    assert isinstance(chart, HoleChart)
    places = [place.code for part in KINDS[code].parts if not part.repeats_places for place in part.places]
    places += [chart.joints.get(part.code, part.code) for part in KINDS[code].parts]  # a joint is its own hole
    missing = [hole.id for hole in chart.holes if places.count(hole.id) != 1]
    if code == "piccolo":  # has no foot joint beyond D
        missing = [hole for hole in missing if hole not in {"low_Cs_pad", "low_C_pad"}]
    if code == "english_horn":  # has no low Bb
        missing = [hole for hole in missing if hole != "low_Bb_pad"]
    assert missing == []


@pytest.mark.parametrize("code", WOODWINDS)
def test_every_place_of_a_woodwind_is_a_hole_of_its_chart(code):
    chart = chart_of(KINDS[code], {})
    holes = {hole.id for hole in chart.holes}
    assert {place.code for part in KINDS[code].parts for place in part.places} - holes == set()


@pytest.mark.parametrize("code", sorted({chart_of(KINDS[code], {}).code for code in WOODWINDS}))
def test_low_notes_open_one_hole_after_another_down_the_tube(code):
    """Machine check of what the charts say of the tube: lower notes of the first register sound from lower holes."""
    chart = charts()[code]
    order = {hole.id: number for number, hole in enumerate(chart.holes)} | {chart.end: len(chart.holes)}
    first = [made[0] for made in chart.fingerings.values() if made[0].register == 1]
    spots = [order[fingering.sounds_from] for fingering in first if not fingering.vents]
    assert all(low >= high for low, high in pairwise(spots))
    forks = {"oboe": 0, "bassoon": 1}.get(code, 0)  # bassoon: forked Eb3 and E3 share the second hole
    assert len(spots) - len(set(spots)) == forks


@pytest.mark.parametrize("code", WOODWINDS)
def test_a_fingering_never_asks_one_hole_to_be_shut_and_open(code):
    for made in chart_of(KINDS[code], {}).fingerings.values():
        for fingering in made:
            assert fingering.must_seal.isdisjoint(fingering.must_open)


def test_the_upper_register_of_a_clarinet_repeats_a_twelfth_higher():
    chart = charts()["clarinet"]
    low, high = chart.fingerings["E3"][0], chart.fingerings["B4"][0]
    assert high.must_seal == low.must_seal - {"register_vent"}
    assert high.must_open == low.must_open | {"register_vent"}
    assert high.words == "Reg T L1 L2 L3 R1 R2 R3 E/B"


def test_a_saxophone_opens_the_body_vent_below_a_and_the_neck_vent_from_a():
    chart = charts()["alto_saxophone"]
    assert chart.fingerings["G#5"][0].vents == {"body_octave_vent"}
    assert chart.fingerings["A5"][0].vents == {"neck_octave_vent"}
    assert chart.fingerings["A5"][0].words == "Oct L1 L2"


def test_woodwind_charts_say_what_is_published_and_what_is_from_memory():
    for code in WOODWINDS:
        chart = chart_of(KINDS[code], {})
        assert not chart.verified
        assert "from memory" in chart.origin
        is_published = any(one.backed is Backing.TWO for made in chart.fingerings.values() for one in made)
        assert chart.origin.startswith("from published charts" if is_published else "from memory")


def test_an_option_chooses_another_chart():
    assert chart_of(KINDS["horn_single"], {"key": "Bb"}).code == "horn_single_bb"
    assert chart_of(KINDS["horn_single"], {"key": "F"}).code == "horn_f_side"
    assert chart_of(KINDS["euphonium"], {"clef": "treble"}).code == "trumpet"
    assert chart_of(KINDS["tuba"], {"key": "Eb"}).code == "tuba_eb"


def test_valves_of_a_fingering():
    assert (combo("T12"), combo("0"), combo("T0"), combo("123")) == ((1, 2), (), (), (1, 2, 3))


@pytest.mark.parametrize(
    ("code", "change", "key", "reason"),
    [
        ("trumpet", {"usual": {"C4": "1"}}, "usual.C4", "'1' lands on no partial"),
        ("trumpet", {"usual": {"C4": "T0"}}, "usual.C4", "'T0' belongs to no side"),
        ("trumpet", {"usual": {"H4": "0"}}, "usual.H4", "expected a note, as F#3"),
        ("trumpet", {"model": "strings"}, "model", "expected one of valves, slide, holes"),
        ("trumpet", {"verified": "yes"}, "verified", "expected true or false"),
        ("trumpet", {"colour": "red"}, "colour", "unknown key"),
        (
            "trumpet", {"sides": [{"fundamental": "C3", "partials": [2, 11]}]}, "sides.1.partials",
            "expected some of 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 16",
        ),
        ("trombone", {"usual": {"Bb2": "2"}}, "usual.Bb2", "position 2 lands on no partial"),
        ("flute", {"notes": {"C4": "L9"}, "registers": []}, "notes.C4", "no key called L9"),
        ("flute", {"notes": {"C4": {"press": 1}}, "registers": []}, "notes.C4.1.press", "expected text"),
        ("flute", {"closes": {"L1": ["nowhere"]}}, "closes.L1", "no hole called nowhere"),
        (
            "flute", {"notes": {"D5": {"press": "L1", "vents": ["small_C"]}}, "registers": []},
            "notes.D5", "a vent of it is shut by its own keys",
        ),
        ("flute", {"notes": {"C4": "L1"}}, "registers.1", "E4 has no fingering to start from"),
    ],
)  # fmt: skip
def test_a_chart_that_cannot_be_right_is_refused_by_file_key_and_reason(tmp_path, code, change, key, reason):
    file = f"{tmp_path.parent.name}/{tmp_path.name}/own.yaml"
    found = [one for one in refused(tmp_path, {code: {**raw(code), **change}}) if one.key == f"{code}.{key}"]
    assert (file, reason) in [(one.file, one.reason.partition(";")[0]) for one in found]


def test_every_problem_of_every_chart_is_told(tmp_path):
    found = refused(
        tmp_path, {"bugle": {"like": "trumpett"}, "flute": {**raw("flute"), "closes": {"L1": ["x", "y"]}, "end": 3}}
    )
    assert [(one.key, one.reason) for one in found][:2] == [
        ("bugle.like", "no chart called trumpett"), ("flute.end", "expected text"),
    ]  # fmt: skip
    both = refused(tmp_path, {"trumpet": {**raw("trumpet"), "usual": {"C4": "1", "G4": "2"}}})
    assert [one.key for one in both] == ["trumpet.usual.C4", "trumpet.usual.G4"]


def test_a_file_that_is_no_yaml_is_named_with_its_line(tmp_path):
    (tmp_path / "own.yaml").write_text("a: [\n", encoding="utf-8")
    with pytest.raises(CatalogError, match=r"own.yaml: : not readable as YAML, line 2"):
        load_charts(more=tmp_path)


def test_a_kind_that_names_a_chart_which_is_not_there_is_found():
    trade = catalog()
    assert missing_charts(trade, charts()) == []
    found = missing_charts(trade, {code: chart for code, chart in charts().items() if code != "oboe"})
    assert [(one.key, one.reason.partition(";")[0]) for one in found] == [
        ("kinds.oboe.chart", "no chart called oboe"), ("kinds.english_horn.chart", "no chart called oboe"),
    ]  # fmt: skip


def refused(folder, data) -> list[Problem]:
    (folder / "own.yaml").write_text(yaml.safe_dump(data), encoding="utf-8")
    with pytest.raises(CatalogError) as error:
        load_charts(folder)
    return error.value.problems


def test_a_district_adds_charts_of_its_own(tmp_path):
    own = {"bugle": {**raw("trumpet"), "aliases": [], "usual": {name_of(60): "0"}}}
    (tmp_path / "own.yaml").write_text(yaml.safe_dump(own), encoding="utf-8")
    assert {"bugle", "trumpet"} <= load_charts(more=tmp_path).keys()


def raw(code: str) -> dict:
    for file in FOLDER.glob("*.yaml"):
        data = yaml.safe_load(file.read_text(encoding="utf-8"))
        if code in data:
            return data[code]
    raise KeyError(code)


OURS = [
    (instrument, name, fingering)
    for instrument in TOUCHES
    for name, fingerings in chart_named(instrument).fingerings.items()
    for fingering in fingerings
]


@pytest.mark.parametrize(("instrument", "name", "fingering"), OURS)
def test_a_fingering_is_backed_as_the_published_charts_have_it(instrument, name, fingering):
    note = next(note for code, note in PUBLISHED_WOODWINDS if code == instrument and midi_of(note) == midi_of(name))
    pressed = frozenset(our_touches(instrument)[touch] for touch in fingering.press)
    flicked = {touch for touch in pressed if touch in FLICKS}
    if instrument == "bassoon" and note in FLICKED:
        assert {touch for _, touch in flicked} <= FLICKED[note]
        assert len(flicked) == 1
        pressed -= flicked
    assert backing(instrument, note, pressed) is fingering.backed
    assert fingering.backed is not Backing.MEMORY


@pytest.mark.parametrize(("instrument", "note"), PUBLISHED_WOODWINDS)
def test_every_published_note_is_charted_with_a_fingering_on_which_two_charts_agree(instrument, note):
    ours = {midi_of(name): fingerings for name, fingerings in chart_named(instrument).fingerings.items()}
    if (instrument, note) in ABSENT:
        assert midi_of(note) not in ours
        return
    backed = {one.backed for one in ours[midi_of(note)]}
    assert Backing.TWO in backed or ((instrument, note) in DIFFER and backed == {Backing.UNSURE})


# Beyond the ranges that students need.
ABSENT = {
    ("oboe", "Eb6"), ("oboe", "E6"), ("oboe", "F6"), ("clarinet", "F6"), ("clarinet", "F#6"), ("clarinet", "G6"),
    ("flute", "Bb6"), ("flute", "B6"), ("flute", "C7"),
}  # fmt: skip
# The published charts differ over it.
DIFFER = {("bassoon", "F#4")}


@pytest.mark.parametrize(
    ("instrument", "note", "press"),
    [
        ("flute", "Bb4", "TBb L1 Eb"),
        ("flute", "Bb5", "TBb L1 Eb"),
        ("clarinet", "Eb4", "T L1 R1"),
        ("clarinet", "Bb5", "Reg T L1 R1"),
        ("clarinet", "F#4", "T side1 side2"),
        ("oboe", "F4", "L1 L2 L3 R1 R3"),
        ("oboe", "F5", "Oct1 L1 L2 L3 R1 R3"),
        ("saxophone", "Bb4", "L1 R1"),
        ("saxophone", "Bb5", "Oct L1 R1"),
        ("saxophone", "Bb4", "L1 bis"),
        ("saxophone", "G#4", "L1 L2 L3 lowC#"),
        ("saxophone", "G#4", "L1 L2 L3 lowB"),
        ("saxophone", "G#5", "Oct L1 L2 L3 lowBb"),
    ],
)
def test_a_chart_has_the_other_fingerings_that_players_use(instrument, note, press):
    """A second way does not count as the usual one, and sounds from the hole that the first one sounds from or above."""
    usual, *others = chart_named(instrument).fingerings[note]
    assert press in {one.words for one in others}
    assert usual.words != press


def test_a_second_fingering_is_worked_out_from_the_linkages():
    """The bis pad shuts with the right hand; a low touch opens the G sharp pad, which the right hand holds down."""
    sax = chart_named("saxophone").fingerings
    one_and_one = next(one for one in sax["Bb4"] if one.words == "L1 R1")
    assert one_and_one.sounds_from == "A_pad"
    assert "bis_pad" in one_and_one.must_seal
    assert {one.sounds_from for one in sax["G#4"]} == {"Gs_pad"}
    assert "Gs_pad" in sax["Bb3"][0].must_seal
    thumb = next(one for one in chart_named("flute").fingerings["Bb4"] if "TBb" in one.keys)
    assert thumb.sounds_from == chart_named("flute").fingerings["Bb4"][0].sounds_from == "A_pad"
    forked = next(one for one in chart_named("oboe").fingerings["F4"] if "R3" in one.keys)
    assert {"fork_F_vent", "E_pad"}.isdisjoint(chart_named("oboe").fingerings["F#4"][0].must_seal)
    assert "E_pad" in forked.must_seal  # below the hole it sounds from, and shut by a finger
    assert "fork_F_vent" in chart_named("oboe").fingerings["C4"][0].must_seal


def test_charts_taken_to_be_like_another_are_backed_by_nothing():
    for code in ("clarinet_low", "saxophone_other", "saxophone_baritone"):
        assert {one.backed for made in charts()[code].fingerings.values() for one in made} == {Backing.MEMORY}


def test_every_published_chart_was_compared_over_its_range():
    assert len(PUBLISHED_WOODWINDS) == 176
    assert {instrument for instrument, _ in PUBLISHED_WOODWINDS} == set(TOUCHES)
    assert {len(published(*note)) for note in PUBLISHED_WOODWINDS} == {2, 3}
