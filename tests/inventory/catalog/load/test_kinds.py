"""Kinds resolved from layouts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from inventory.catalog.load import FOLDER, CatalogError, catalog, load_catalog

KINDS = catalog().kinds


def codes(kind: str) -> set[str]:
    return {part.code for part in KINDS[kind].parts}


def test_a_layout_gives_each_kind_its_own_parts():
    assert "f_attachment_rotor" in codes("trombone_f") - codes("trombone")
    assert "second_rotor" in codes("trombone_bass") - codes("trombone_f")
    assert {"f_main_slide", "bb_main_slide", "valve_slide_bb_side"} <= codes("horn_double") - codes("horn_single")
    assert "neck_and_tuning_bits" in codes("sousaphone") - codes("tuba")
    assert "fourth_valve_slide" in codes("euphonium") - codes("baritone_marching")
    assert {"snare_wires", "strainer"} <= codes("snare_kit") - codes("bass_drum_concert")
    assert "motor" in codes("vibraphone") - codes("marimba")


def test_a_double_instrument_has_a_thumb_rotor_and_a_single_instrument_has_not():
    places = {kind: [one.code for one in KINDS[kind].part("rotor").places] for kind in ("horn_double", "horn_single")}
    assert places == {"horn_double": ["1", "2", "3", "thumb"], "horn_single": ["1", "2", "3"]}


def test_bars_run_over_the_written_range():
    naturals = [place.code for place in KINDS["bell_kit"].part("bars_naturals").places]
    accidentals = [place.code for place in KINDS["bell_kit"].part("bars_accidentals").places]
    assert (naturals[0], naturals[-1], len(naturals)) == ("G3", "C6", 18)
    assert (accidentals[0], accidentals[-1], len(accidentals)) == ("Ab3", "Bb5", 12)


def test_springs_repeat_the_places_of_the_keys():
    springs = KINDS["flute"].part("springs")
    assert springs.repeats_places
    assert {place.code for place in springs.places} >= {"Fs_pad", "low_C_pad"}


def test_a_kind_may_rename_and_count_an_accessory():
    mouthpiece = next(one for one in KINDS["cornet"].accessories if one.code == "mouthpiece")
    bits = next(one for one in KINDS["sousaphone"].accessories if one.code == "tuning_bit")
    assert mouthpiece.name == "cornet mouthpiece (short shank)"
    assert mouthpiece.hygiene
    assert bits.count == 2


@pytest.mark.parametrize("kind", [one for one in KINDS.values() if one.chart], ids=lambda kind: kind.code)
def test_a_kind_with_a_chart_has_a_first_year_or_concert_range(kind):
    assert kind.levels


def refused(folder: Path, name: str, data: object) -> list[tuple[str, str]]:
    path = folder / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(yaml.safe_dump(data), encoding="utf-8")
    with pytest.raises(CatalogError) as error:
        load_catalog(FOLDER, folder)
    return [(one.key, one.reason) for one in error.value.problems]


def test_a_kind_says_which_features_of_its_layout_it_has(tmp_path):
    """Forgotten, it would silently lack the parts and remedies that go by them."""
    raw = yaml.safe_load((FOLDER / "kinds.yaml").read_text(encoding="utf-8"))["kinds"]["flute"]
    raw.pop("features")
    assert refused(tmp_path, "kinds.yaml", {"kinds": {"flute_bass": raw}}) == [
        ("kinds.flute_bass.features", "missing: say which of cork_tenons, screwed_pads, low_c_foot it has, [] for none")
    ]


@pytest.mark.parametrize(
    ("features", "reasons"),
    [
        (["low_c_fot"], ["no feature called low_c_fot; did you mean low_c_foot?"]),
        (["f_attachment"], ["f_attachment is no feature of layout flute"]),
        ("low_c_foot", ["expected a list of texts"]),
    ],
)
def test_a_feature_that_its_layout_does_not_know_is_refused(tmp_path, features, reasons):
    found = refused(tmp_path, "kinds.yaml", {"kinds": {"flute": {"features": features}}})
    assert found == [("kinds.flute.features", reason) for reason in reasons]


def test_a_part_for_an_option_that_no_kind_has_is_refused(tmp_path):
    part = {"name": "fifth slide", "role": "valve_slide", "only_with": "valves=5"}
    found = refused(tmp_path, "layouts/piston_brass.yaml", {"parts": {"fifth_slide": part}})
    (key, reason) = found[0]
    assert key == "piston_brass.parts.fifth_slide.only_with"
    assert reason.startswith("no kind with this layout has the option valves=5")


@pytest.mark.parametrize(
    ("name", "data", "key", "reason"),
    [
        ("kinds.yaml", {"kinds": {"tuba": {"care": "flutes"}}}, "kinds.tuba.care", "no care called flutes; did you mean flute?"),
        ("kinds.yaml", {"kinds": {"tuba": {"sounds": "low"}}}, "kinds.tuba.sounds", "expected semitones as a whole number, or null"),
        ("kinds.yaml", {"kinds": {"tuba": {"life_years": [9, 3]}}}, "kinds.tuba.life_years", "expected years as [low, high]"),
        (
            "kinds.yaml", {"kinds": {"tuba": {"levels": {"third_year": ["E2", "E3"]}}}},
            "kinds.tuba.levels.third_year", "expected one of first_year, second_year, concert, marching",
        ),
        (
            "kinds.yaml", {"kinds": {"tuba": {"accessories": {"case": {"count": 21}}}}},
            "kinds.tuba.accessories.case.count", "expected a whole number from 1 to 20",
        ),
        ("kinds.yaml", {"kinds": {"tuba": {"options": {"valves": {"default": "9"}}}}}, "kinds.tuba.options.valves.default", "not one of the choices"),
        ("options.yaml", {"options": {"valves": {"default": "9"}}}, "options.valves.default", "not one of the choices"),
        (
            "accessories.yaml", {"accessories": {"cap": {"between_players": ""}}},
            "accessories.cap.between_players", "say what is done with it between players, as somebody ticks it",
        ),
        ("layouts/flute.yaml", {"parts": {"body": {"drawn_on": "bell"}}}, "flute.parts.body.drawn_on", "flute has no part bell"),
        ("layouts/flute.yaml", {"parts": {"body": {"wet": "soaked"}}}, "flute.parts.body.wet", "expected one of ok, brief, no"),
        ("layouts/flute.yaml", {"parts": {"body": {"bars": "all"}}}, "flute.parts.body.bars", "expected one of naturals, accidentals"),
    ],
)  # fmt: skip
def test_a_kind_or_layout_that_does_not_fit_is_refused(tmp_path, name, data, key, reason):
    assert (key, reason) in refused(tmp_path, name, data)


def test_no_kind_is_listed_where_a_feature_tells():
    """A list of kinds in a layout, a remedy or an interval silently misses the next kind."""
    files = [path for path in FOLDER.rglob("*.yaml") if path.name != "kinds.yaml"]
    assert [path.name for path in files if "kinds:" in path.read_text(encoding="utf-8")] == []


def test_every_feature_is_used_and_some_kind_has_it():
    text = "".join(path.read_text(encoding="utf-8") for path in FOLDER.rglob("*.yaml") if path.name != "features.yaml")
    features = yaml.safe_load((FOLDER / "features.yaml").read_text(encoding="utf-8"))["features"]
    had = {code for kind in KINDS.values() for code in kind.features}
    assert [code for code in features if code not in had] == []
    used = set(re.findall(r"(?:only_if|unless|every_step_of): (\w+)", text))
    assert [code for code in features if code not in used] == []


def test_a_kind_that_names_no_limit_for_repairs_has_the_usual_one(tmp_path):
    raw = yaml.safe_load((FOLDER / "kinds.yaml").read_text(encoding="utf-8"))["kinds"]["flute"]
    raw.pop("repair_limit")
    (tmp_path / "kinds.yaml").write_text(yaml.safe_dump({"kinds": {"flute_bass": raw}}), encoding="utf-8")
    trade = load_catalog(FOLDER, tmp_path)
    assert trade.kinds["flute_bass"].repair_limit == trade.settings["repair_limit"]
