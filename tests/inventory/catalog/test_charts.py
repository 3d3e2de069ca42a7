from itertools import pairwise

import pytest
import yaml

from inventory.catalog.chart_schema import BrassChart, HoleChart
from inventory.catalog.charts import FOLDER, ChartError, chart_of, charts, combo, load_charts
from inventory.rules.pitch import midi_of, name_of
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
    """Machine check of charts written from memory: lower notes of the first register sound from lower holes."""
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


def test_woodwind_charts_from_memory_say_so():
    for code in WOODWINDS:
        chart = chart_of(KINDS[code], {})
        assert not chart.verified
        assert "from memory" in chart.origin


def test_an_option_chooses_another_chart():
    assert chart_of(KINDS["horn_single"], {"key": "Bb"}).code == "horn_single_bb"
    assert chart_of(KINDS["horn_single"], {"key": "F"}).code == "horn_f_side"
    assert chart_of(KINDS["euphonium"], {"clef": "treble"}).code == "trumpet"
    assert chart_of(KINDS["tuba"], {"key": "Eb"}).code == "tuba_eb"


def test_valves_of_a_fingering():
    assert (combo("T12"), combo("0"), combo("T0"), combo("123")) == ((1, 2), (), (), (1, 2, 3))


@pytest.mark.parametrize(
    ("code", "change", "message"),
    [
        ("trumpet", {"usual": {"C4": "1"}}, "C4: '1' lands on no partial"),
        ("trumpet", {"usual": {"C4": "T0"}}, "'T0' belongs to no side"),
        ("trumpet", {"model": "strings"}, "model: must be"),
        ("trombone", {"usual": {"Bb2": "2"}}, "position 2 lands on no partial"),
        ("flute", {"notes": {"C4": "L9"}, "registers": []}, r"no key \['L9'\]"),
        ("flute", {"closes": {"L1": ["nowhere"]}}, r"no hole \['nowhere'\]"),
        ("flute", {"notes": {"D5": {"press": "L1", "vents": ["small_C"]}}, "registers": []}, "shut by its own keys"),
    ],
)
def test_a_chart_that_cannot_be_right_is_refused(tmp_path, code, change, message):
    (tmp_path / "own.yaml").write_text(yaml.safe_dump({code: {**raw(code), **change}}), encoding="utf-8")
    with pytest.raises(ChartError, match=message):
        load_charts(tmp_path)


def test_a_chart_without_its_model_is_refused(tmp_path):
    (tmp_path / "own.yaml").write_text("a: {like: b}\n", encoding="utf-8")
    with pytest.raises(ChartError, match="no chart 'b'"):
        load_charts(tmp_path)


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
