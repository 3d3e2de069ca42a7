"""The recipes of DEVELOPERS.md, cooked: their YAML is laid over the catalog as a district's own folder."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from pathlib import Path

import pytest

from inventory.catalog.charts import load_charts
from inventory.catalog.load import FOLDER, load_catalog
from inventory.catalog.schema import Severity
from inventory.rules.facts import FindingFact
from inventory.rules.playing import playing
from repairs.profiles import bench_profile
from repairs.rules.plan import plan_work

ROOT = Path(__file__).resolve().parent.parent
BLOCK = re.compile(r"^```yaml\n# (\S+)\n(.*?)^```", re.MULTILINE | re.DOTALL)


@pytest.fixture(scope="module")
def district(tmp_path_factory):
    """Write each block into the file that its first line names."""
    folder = tmp_path_factory.mktemp("district")
    texts = defaultdict(str)
    for name, text in BLOCK.findall((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")):
        texts[name] += text
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def trade(district):
    return load_catalog(FOLDER, district)


def test_the_recipes_write_five_files_and_a_chart(district):
    written = {path.relative_to(district).as_posix() for path in district.rglob("*.yaml")}
    assert written == {
        "kinds.yaml", "faults.yaml", "roles.yaml", "remedies.yaml", "methods.yaml", "charts/district.yaml",
    }  # fmt: skip


def test_the_new_kind_plays_and_its_third_slide_matters(trade):
    """30.3 cents is the published error of valves 1 and 3 together, each tuned alone."""
    kind = trade.kinds["horn_alto"]
    chart = load_charts()["trumpet"]
    stuck = FindingFact(part="third_valve_slide", fault="slide_seized", severity=Severity.SEVERE)
    notes = {
        note.written: note
        for note in playing(
            kind=kind, chart=chart, options={}, findings=[stuck], faults=trade.faults, roles=trade.roles
        ).notes
    }
    assert round(notes["D4"].cents, 1) == 30.3
    assert notes["C4"].sounding == 60 - 9


def test_the_new_fingering_stands_beside_the_usual_one(district):
    charts = load_charts(more=district / "charts")
    ours, theirs = charts["clarinet_ours"], charts["clarinet"]
    assert len(ours.fingerings["Eb4"]) == len(theirs.fingerings["Eb4"]) + 1
    assert ours.fingerings["E4"] == theirs.fingerings["E4"]


def test_the_new_fault_is_planned_with_the_new_method(trade):
    gone = FindingFact(part="finger_button", fault="inlay_gone", severity=Severity.SEVERE)
    plan = plan_work(
        kind=trade.kinds["trumpet"], catalog=trade, findings=[gone], bench=bench_profile("school", catalog=trade)
    )
    assert "inlay_replace" in [step.method for step in plan.steps]


def test_a_light_case_is_left(trade):
    chipped = FindingFact(part="finger_button", fault="inlay_gone", severity=Severity.LIGHT)
    plan = plan_work(
        kind=trade.kinds["trumpet"], catalog=trade, findings=[chipped], bench=bench_profile("school", catalog=trade)
    )
    assert "inlay_replace" not in [step.method for step in plan.steps]


BASS_FLUTE = """
kinds:
  flute_bass:
    name: Bass flute
    aliases: [bass fl]
    family: woodwind
    layout: flute
    features: [low_c_foot]
    model: holes
    chart: flute
    key: C
    sounds: -12
    clef: treble
    sounding: [C3, D6]
    levels: {concert: [C4, A6]}
    prices: {student: [1500, 2500], intermediate: [2500, 5000]}
    life_years: [10, 20]
    upkeep: 120
    accessories: {case: {}, swab: {}}
    play_test: flute
    care: flute
"""


@pytest.mark.parametrize(
    ("kind", "fault", "method"),
    [
        ("flute_bass", "tenon_cork_bad", "flute_tenon_fit"),
        ("flute_bass", "tenon_loose", "flute_tenon_fit"),
        ("flute_bass", "tenon_tight", "free_flute_tenon"),
        ("flute", "tenon_cork_bad", "flute_tenon_fit"),
        ("piccolo", "tenon_cork_bad", "tenon_cork"),
        ("sax_tenor", "tenon_cork_bad", "neck_tenon_fit"),
        ("clarinet_bb", "tenon_cork_bad", "tenon_cork"),
    ],
)
def test_a_kind_added_by_the_recipe_alone_is_planned_by_what_it_is_made_of(tmp_path, kind, fault, method):
    """A bare metal tenon is fitted, never recorked; a corked one is recorked (common practice, no source)."""
    (tmp_path / "kinds.yaml").write_text(BASS_FLUTE, encoding="utf-8")
    trade = load_catalog(FOLDER, tmp_path)
    part = next(part for part in trade.kinds[kind].parts if part.role == "tenon")
    bad = FindingFact(part=part.code, fault=fault, severity=Severity.MODERATE)
    plan = plan_work(kind=trade.kinds[kind], catalog=trade, findings=[bad], bench=bench_profile("full", catalog=trade))
    planned = {step.method for step in plan.steps} | {one.method for one in plan.send_out}
    assert method in planned
    assert not {"tenon_cork", "flute_tenon_fit", "neck_tenon_fit"} & planned - {method}


# The index of rules


def indexed():
    """Of docs/rules.md: module -> the functions named beside it."""
    text = (ROOT / "docs" / "rules.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `(\S+\.py)` \| ([^|]*) \|", text, re.MULTILINE)
    return {module: re.findall(r"`(\w+)`", functions) for module, functions in rows}


def public_functions(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.name for node in tree.body if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")}


def test_the_index_names_only_functions_that_are_there():
    gone = {
        module: sorted(set(functions) - public_functions(ROOT / module))
        for module, functions in indexed().items()
        if not (ROOT / module).exists() or set(functions) - public_functions(ROOT / module)
    }
    assert gone == {}


def test_every_module_of_rules_with_a_function_is_in_the_index():
    modules = {
        path.relative_to(ROOT).as_posix()
        for app in ("inventory", "repairs", "loans", "desk")
        for path in (ROOT / app / "rules").rglob("*.py")
        if public_functions(path)
    }
    assert modules - set(indexed()) == set()
