"""Reading folders: merging by code and field, and files that do not belong."""

from __future__ import annotations

from pathlib import Path

import pytest

from inventory.catalog.load import FOLDER, CatalogError, catalog, load_catalog
from inventory.catalog.load.folder import SECTIONS, read_folder
from inventory.catalog.load.problems import Problem

TRADE = catalog()


def make_folder(root: Path, name: str, **files: str) -> Path:
    folder = root / name
    folder.mkdir()
    for section in SECTIONS if name == "base" else ():
        (folder / f"{section}.yaml").write_text(f"{section}: {{}}\n", encoding="utf-8")
    for section, text in files.items():
        (folder / f"{section}.yaml").write_text(text, encoding="utf-8")
    return folder


def override(folder: Path, name: str, text: str) -> Path:
    path = folder / "district" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return folder / "district"


def problems_of(folder: Path) -> list[Problem]:
    with pytest.raises(CatalogError) as caught:
        load_catalog(FOLDER, folder)
    return caught.value.problems


def test_fields_merge_and_lists_are_replaced(tmp_path):
    base = make_folder(tmp_path, "base", tools="origin: published\ntools:\n  torch: {price: 60, tags: [a, b]}\n")
    over = make_folder(tmp_path, "own", tools="tools:\n  torch: {tags: [c]}\n  saw: {price: 5}\n")
    read = read_folder(folder=base, override=over)
    assert read.sections["tools"] == {"torch": {"price": 60, "tags": ["c"]}, "saw": {"price": 5}}
    assert read.files["tools", "torch"] == "own/tools.yaml"
    assert read.origins["tools", "torch"] == "published"
    assert read.problems == []


def test_a_missing_file_an_unknown_key_and_a_bad_byte_are_noted(tmp_path):
    base = make_folder(tmp_path, "base", tools="tools: {}\nextra: 1\n")
    (base / "roles.yaml").unlink()
    (base / "care.yaml").write_bytes(b"care: {a: \xff}\n")
    problems = read_folder(folder=base).problems
    assert Problem("base/roles.yaml", "roles", "file is missing") in problems
    assert Problem("base/tools.yaml", "extra", "unknown key") in problems
    assert any(one.file == "base/care.yaml" and one.reason.startswith("not readable") for one in problems)


def test_a_code_that_is_no_text_is_noted(tmp_path):
    base = make_folder(tmp_path, "base", tools="tools: {3: {price: 60}}\n")
    assert Problem("base/tools.yaml", "tools.3", "code must be text") in read_folder(folder=base).problems


def test_fingering_charts_are_left_to_their_own_reader(tmp_path):
    base = make_folder(tmp_path, "base")
    (base / "charts").mkdir()
    (base / "charts" / "harp.yaml").write_text("harp: {}\n", encoding="utf-8")
    assert read_folder(folder=base).problems == []


def test_a_district_changes_one_figure_and_keeps_the_rest(tmp_path):
    folder = override(tmp_path, "methods.yaml", "methods:\n  soap_bath_brass:\n    minutes: [10, 20, 30]\n")
    changed = load_catalog(FOLDER, folder).methods["soap_bath_brass"]
    assert changed.minutes == (10, 20, 30)
    assert changed.watch == TRADE.methods["soap_bath_brass"].watch


def test_a_district_adds_a_part_where_it_belongs_on_the_walk(tmp_path):
    text = (
        "parts:\n  lyre_holder:\n    name: lyre holder\n    role: fitting\n    in_bore: false\n"
        "    follows: leadpipe\n    kinds: [cornet]\n"
    )
    found = load_catalog(FOLDER, override(tmp_path, "layouts/piston_brass.yaml", text))
    codes = [part.code for part in found.kinds["cornet"].parts]
    assert codes[codes.index("leadpipe") + 1] == "lyre_holder"
    assert "lyre_holder" not in [part.code for part in found.kinds["trumpet"].parts]


@pytest.mark.parametrize(
    ("name", "text", "key", "reason"),
    [
        ("faults.yaml", "faults:\n  pad_leak:\n    colour: red\n", "faults.pad_leak.colour", "unknown key"),
        (
            "faults.yaml",
            "faults:\n  pad_leak:\n    cause: luck\n",
            "faults.pad_leak.cause",
            "expected one of wear, damage, either",
        ),
        ("faults.yaml", "faults:\n  new_fault:\n    name: new\n", "faults.new_fault.test", "missing"),
        (
            "methods.yaml",
            "methods:\n  oil_piston:\n    minutes: 4\n",
            "methods.oil_piston.minutes",
            "expected minutes as [low, likely, high]",
        ),
        (
            "methods.yaml",
            "methods:\n  oil_piston:\n    minutes: [9, 4, 2]\n",
            "methods.oil_piston.minutes",
            "expected minutes as [low, likely, high]",
        ),
        (
            "methods.yaml",
            "methods:\n  oil_piston:\n    tools: [wand]\n",
            "methods.oil_piston.tools",
            "no tool called wand",
        ),
        (
            "methods.yaml",
            "methods:\n  oil_piston:\n    phase: 12\n",
            "methods.oil_piston.phase",
            "expected a whole number from 1 to 9",
        ),
        (
            "methods.yaml",
            "methods:\n  remove_felts:\n    needs: [play_test]\n",
            "methods.remove_felts.needs",
            "play_test is of phase 9, later than phase 2",
        ),
        (
            "methods.yaml",
            "methods:\n  remove_felts:\n    needs: [remove_pistons]\n  remove_pistons:\n    needs: [remove_felts]\n",
            "methods.remove_felts.needs",
            "goes in a circle by remove_felts > remove_pistons",
        ),
        (
            "ladders.yaml",
            "ladders:\n  rotor:\n    rungs:\n      flush:\n        force: 0\n",
            "ladders.rotor.rungs.flush.force",
            "0 comes after 1: gentler rungs come first",
        ),
        (
            "ladders.yaml",
            "ladders:\n  rotor:\n    rungs:\n      flush:\n        p: 1.5\n",
            "ladders.rotor.rungs.flush.p",
            "expected a share between 0 and 1",
        ),
        (
            "layouts/trombone.yaml",
            "parts:\n  bell: {faults: [haunted]}\n",
            "trombone.parts.bell.faults",
            "no fault called haunted",
        ),
        (
            "remedies.yaml",
            "remedies:\n  pad_leak:\n    - {methods: [prayer]}\n",
            "remedies.pad_leak.1.methods",
            "no method called prayer",
        ),
        (
            "remedies.yaml",
            "remedies:\n  ring_loose:\n    - {roles: [bell], methods: [ring_shim]}\n",
            "remedies.ring_loose.body_wood",
            "no method for light at bassoon",
        ),
        (
            "guards.yaml",
            "guards:\n  red_rot:\n    forbids: [magic]\n",
            "guards.red_rot.forbids",
            "no tag called magic",
        ),
        (
            "kinds.yaml",
            "kinds:\n  trumpet:\n    first_year: [H4, C5]\n",
            "kinds.trumpet.first_year",
            "expected [low note, high note], as [A3, E5]",
        ),
        ("kinds.yaml", "kinds:\n  trumpet:\n    layout: harp\n", "kinds.trumpet.layout", "no layout called harp"),
        (
            "kinds.yaml",
            "kinds:\n  trumpet:\n    accessories:\n      hat: {}\n",
            "kinds.trumpet.accessories.hat",
            "no accessory called hat",
        ),
        ("layouts/flute.yaml", "parts:\n  body:\n    role: engine\n", "flute.parts.body.role", "no role called engine"),
        (
            "settings.yaml",
            "settings:\n  pitch_limit_cents:\n    value: much\n",
            "settings.pitch_limit_cents.value",
            "expected a number that is not negative",
        ),
        (
            "settings.yaml",
            "settings:\n  pitch_limit_cents:\n    origin: set_by_the_district\n",
            "settings.pitch_limit_cents.origin",
            "only what is set under Setup has this one",
        ),
        ("faults.yaml", "faults:\n  - pad_leak\n", "faults", "expected a mapping"),
        ("colours.yaml", "colours: {}\n", "", "not a file of the catalog"),
        ("faults.yaml", "faults: [\n", "", "not readable as YAML, line 2: did not find expected node content"),
        (
            "roles.yaml",
            "roles: {a: b: c}\n",
            "",
            "not readable as YAML, line 1: did not find expected ',' or '}'",
        ),
    ],
)
def test_a_broken_override_is_refused_by_file_key_and_reason(tmp_path, name, text, key, reason):
    assert Problem(f"district/{name}", key, reason) in problems_of(override(tmp_path, name, text))


def test_all_problems_are_told_at_once(tmp_path):
    override(tmp_path, "faults.yaml", "faults:\n  pad_leak:\n    colour: red\n    cause: luck\n")
    found = problems_of(override(tmp_path, "tools.yaml", "tools:\n  torch:\n    price: free\n"))
    assert [problem.key for problem in found] == [
        "faults.pad_leak.cause",
        "faults.pad_leak.colour",
        "tools.torch.price",
    ]


def test_an_override_folder_that_is_not_there_is_refused(tmp_path):
    assert problems_of(tmp_path / "nowhere") == [Problem("nowhere", "", "override folder does not exist")]
