"""What types cannot say: gaps, contradictions, cautions."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from pathlib import Path

import pytest

from inventory.catalog.load import FOLDER, CatalogError, build_catalog, catalog, load_catalog
from inventory.catalog.load.checks import check_links
from inventory.catalog.load.folder import read_folder
from inventory.catalog.load.problems import Problem
from inventory.catalog.schema import Catalog, Method

TREE = read_folder(folder=FOLDER)


def reasons(broken: Catalog) -> set[tuple[str, str]]:
    return {(one.key, one.reason) for one in check_links(catalog=broken, folder=TREE)}


def without(section: str, code: str) -> list[Problem]:
    """Take an entry out of the files and return what is said of those who name it."""
    tree = deepcopy(TREE)
    del tree.sections[section][code]
    with pytest.raises(CatalogError) as refused:
        build_catalog(tree)
    return refused.value.problems


def laid_over(folder: Path, name: str, text: str) -> list[tuple[str, str]]:
    (folder / name).write_text(text, encoding="utf-8")
    with pytest.raises(CatalogError) as refused:
        load_catalog(FOLDER, folder)
    assert {one.file for one in refused.value.problems} == {f"{folder.name}/{name}"}
    return [(one.key, one.reason) for one in refused.value.problems]


def changed(code: str, **fields: object) -> Catalog:
    trade = catalog()
    method: Method = replace(trade.methods[code], **fields)
    return replace(trade, methods={**trade.methods, code: method})


def test_the_catalog_as_it_stands_has_no_loose_end():
    assert check_links(catalog=catalog(), folder=TREE) == []


def test_a_mark_at_a_part_that_no_kind_has_is_found(tmp_path):
    text = "faults: {key_noise: {never_issue: [{because: It falls., parts: [elbow]}]}}"
    assert laid_over(tmp_path, "faults.yaml", text) == [
        ("faults.key_noise.never_issue", "no kind has a part called elbow")
    ]


def test_cut_points_of_a_folder_rise(tmp_path):
    assert laid_over(tmp_path, "settings.yaml", "settings: {index_fair_to: {value: 0.05}}") == [
        ("settings.index_fair_to.value", "must be more than index_good_to")
    ]


@pytest.mark.parametrize(("name", "folder"), [("outline", "pictures"), ("silhouette", "pictures/silhouettes")])
def test_a_kind_takes_the_drawings_of_its_layout_and_one_that_is_not_there_is_found(tmp_path, name, folder):
    assert name not in TREE.sections["kinds"]["trumpet"]
    assert getattr(catalog().kinds["trumpet"], name) == "trumpet"
    assert laid_over(tmp_path, "kinds.yaml", f"kinds: {{trumpet: {{{name}: trumpett}}}}") == [
        (f"kinds.trumpet.{name}", f"no such file in fixtures/{folder}; did you mean trumpet?")
    ]


@pytest.mark.parametrize("lost", ["the {spot}", "the {}", "the {where", "the {part.size}", "the {part:d}"])
def test_what_a_role_says_is_lost_names_only_the_part_and_its_place(tmp_path, lost):
    text = f'roles: {{string: {{lost: "{lost}"}}}}'
    assert laid_over(tmp_path, "roles.yaml", text) == [
        ("roles.string.lost", "expected only {part}, {where} or {place} in braces")
    ]


def test_a_fault_that_is_taken_away_is_missed_by_all_who_name_it():
    found = {(one.key, one.reason.partition(";")[0]) for one in without("faults", "ring_loose")}
    assert ("roles.body_wood.faults", "no fault called ring_loose") in found
    assert ("remedies.ring_loose", "no fault called ring_loose") in found
    assert ("methods.ring_shim.fixes", "no fault called ring_loose") in found


def test_a_part_without_its_role_names_the_layout():
    found = without("roles", "casing")
    key = "piston_brass.parts.valve_casing.role"
    assert [one.file for one in found if one.key == key] == ["catalog/layouts/piston_brass.yaml"]


def test_a_fault_without_a_method_names_role_and_kind():
    remedies = tuple(remedy for remedy in catalog().remedies if remedy.fault != "rotor_string")
    found = reasons(replace(catalog(), remedies=remedies))
    assert ("remedies.rotor_string.linkage", "no method for light at horn_double") in found


def test_a_remedy_that_names_no_method_is_noted():
    first, *others = catalog().remedies
    found = reasons(replace(catalog(), remedies=(replace(first, methods=()), *others)))
    assert (f"remedies.{first.fault}.methods", "a remedy needs at least one method") in found


def test_what_puts_back_is_whole_work_of_a_later_phase():
    found = reasons(changed("remove_pistons", put_back=("intake_inspect", "valve_guides")))
    assert ("methods.remove_pistons.put_back", "intake_inspect is of phase 1, earlier than phase 2") in found
    assert ("methods.remove_pistons.put_back", "valve_guides is not done once for the whole instrument") in found


@pytest.mark.parametrize(
    ("count", "reasons"),
    [
        (0, ["needs at least one rung"]),
        (1, []),
        (15, []),
        (16, ["has at most 15 rungs: of more, no order can be proved cheapest"]),
    ],
)
def test_a_ladder_has_one_rung_to_fifteen(count, reasons):
    trade = catalog()
    rotor = trade.ladders["rotor"]
    rungs = tuple(replace(rotor.rungs[0], code=f"r{number}") for number in range(count))
    broken = replace(trade, ladders={**trade.ladders, "rotor": replace(rotor, rungs=rungs)})
    found = check_links(catalog=broken, folder=TREE)
    assert [(one.key, one.reason) for one in found] == [
        ("ladders.rotor.rungs", f"a ladder {reason}") for reason in reasons
    ]


@pytest.mark.parametrize(("after", "is_earlier"), [("flush", True), ("last", False), ("later", False)])
def test_a_rung_comes_after_one_that_stands_before_it(after, is_earlier):
    trade = catalog()
    rotor = trade.ladders["rotor"]
    last = replace(rotor.rungs[0], code="last", force=6, after=(after,))
    broken = replace(trade, ladders={**trade.ladders, "rotor": replace(rotor, rungs=(*rotor.rungs, last))})
    found = [(one.key, one.reason) for one in check_links(catalog=broken, folder=TREE)]
    reason = ("ladders.rotor.rungs.last.after", f"no earlier rung called {after}")
    assert found == ([] if is_earlier else [reason])


def test_an_overhaul_fixes_what_the_methods_fix_that_it_stands_in_for():
    found = reasons(changed("repad_clarinet", fixes=("pad_torn",), whole=False))
    assert {
        ("overhauls.clarinet_pads.method", "repad_clarinet is not done once for the whole instrument"),
        ("overhauls.clarinet_pads.method", "repad_clarinet does not fix pad_leak, which it stands in for"),
    } <= found


@pytest.mark.parametrize(
    ("field", "reason"),
    [
        ("instead_of: [pad_reseat, unknown]", "no method called unknown"),
        ("kinds: [kazoo]", "no kind called kazoo"),
        ("layouts: [pipe]", "no layout called pipe"),
        ("only_if: unicorn", "no feature called unicorn"),
        ("from_count: 1", "expected a whole number from 2 to 100"),
    ],
)
def test_an_overhaul_names_what_there_is(tmp_path, field, reason):
    found = laid_over(tmp_path, "overhauls.yaml", f"overhauls: {{clarinet_pads: {{{field}}}}}")
    assert [said.partition(";")[0] for _, said in found] == [reason]


def test_what_a_method_needs_at_a_role_is_earlier_work():
    found = reasons(changed("solder_brace", needs_at={"bell": ("mount_keys",)}))
    assert ("methods.solder_brace.needs_at.bell", "mount_keys is of phase 7, later than phase 5") in found


# The words of the catalog


@pytest.mark.parametrize(
    ("name", "text", "key", "reason"),
    [
        ("methods.yaml", "methods: {tenon_cork: {tags: [corkk]}}", "methods.tenon_cork.tags", "corkk; did you mean cork?"),
        (
            "ladders.yaml", "ladders: {rotor: {rungs: {flush: {tags: [wett]}}}}",
            "ladders.rotor.rungs.flush.tags", "wett; did you mean wet?",
        ),
        ("guards.yaml", "guards: {red_rot: {forbids: [forse]}}", "guards.red_rot.forbids", "forse; did you mean force?"),
        (
            "order_rules.yaml", "order_rules: {no_flame_on_oil: {between: [claen]}}",
            "order_rules.no_flame_on_oil.between", "claen; did you mean clean?",
        ),
    ],
)  # fmt: skip
def test_a_tag_that_nobody_declared_is_refused(tmp_path, name, text, key, reason):
    assert laid_over(tmp_path, name, text) == [(key, f"no tag called {reason}")]


def test_a_district_declares_a_tag_of_its_own(tmp_path):
    (tmp_path / "tags.yaml").write_text("tags: {engrave: {means: Cuts letters into metal}}", encoding="utf-8")
    (tmp_path / "methods.yaml").write_text("methods: {polish_buff: {tags: [polish, engrave]}}", encoding="utf-8")
    assert "engrave" in load_catalog(FOLDER, tmp_path).methods["polish_buff"].tags


# Cautions hold for what is loaded, whoever wrote it


def test_a_district_cannot_take_the_cautions_off_soldering(tmp_path):
    text = "methods: {solder_brace: {tags: [sodler, flamme], hazards: []}}"
    found = laid_over(tmp_path, "methods.yaml", text)
    assert ("methods.solder_brace.tags", "no tag called sodler; did you mean solder?") in found
    assert ("methods.solder_brace.tags", "no tag called flamme; did you mean flame?") in found


@pytest.mark.parametrize(
    ("fields", "missing"),
    [
        ("hazards: []", {"hazards": {"heat", "fire"}}),
        ("hazards: [heat]", {"hazards": {"fire"}}),
        ("tags: [solder], hazards: []", {"tags": {"flame"}, "hazards": {"heat", "fire"}}),
        ("tags: [solder], tools: [], hazards: []", {"tags": {"flame"}, "hazards": {"heat", "fire"}}),  # setup: torch
        ("tags: [solder, heat], tools: [], setup: bench, hazards: []", {"hazards": {"heat"}}),
    ],
)
def test_work_with_heat_or_flame_carries_its_cautions(tmp_path, fields, missing):
    found = laid_over(tmp_path, "methods.yaml", f"methods: {{solder_brace: {{{fields}}}}}")
    told = {name: {reason.split()[-1] for key, reason in found if key.endswith(name)} for name in missing}
    assert told == missing
    assert len(found) == sum(map(len, missing.values()))


def test_a_rung_with_a_flame_carries_its_cautions_and_comes_after_cleaning(tmp_path):
    text = "ladders: {tuning_slide: {rungs: {unsolder: {hazards: [fume], needs: [remove_felts]}}}}"
    assert laid_over(tmp_path, "ladders.yaml", text) == [
        ("ladders.tuning_slide.rungs.unsolder.hazards", "work with flame must carry the caution fire"),
        ("ladders.tuning_slide.rungs.unsolder.hazards", "work with flame must carry the caution heat"),
        ("ladders.tuning_slide.rungs.unsolder.needs", "no flame before the oil is cleaned off"),
    ]


def test_a_caution_of_hot_work_must_be_acknowledged(tmp_path):
    found = laid_over(tmp_path, "hazards.yaml", "hazards: {lead: {acknowledge: false}}")
    assert found == [("hazards.lead.acknowledge", "this caution must ask for an acknowledgement")]
