"""Entries of the trade, built from plain values."""

from __future__ import annotations

from decimal import Decimal

from inventory.catalog.load.entries import build_ladder, build_method, build_overhaul, build_remedies, entries, section
from inventory.catalog.load.folder import Folder
from inventory.catalog.schema import Origin, PartNeed, Severity, Skill


def make_folder(section_name: str, code: str, entry: object, origin: str | None = None) -> Folder:
    folder = Folder(sections={section_name: {code: entry}}, files={(section_name, code): f"{section_name}.yaml"})
    if origin:
        folder.origins[section_name, code] = origin
    return folder


METHOD = {"name": "Oil", "minutes": [1, 2, 3], "skill": "basic", "phase": 8, "watch": ["One drop."]}


def test_a_method_takes_its_parts_fee_and_origin():
    raw = METHOD | {"parts": {"oil": {"price": [1, 2], "quantity": 0.5}}, "fee": [20, 40]}
    folder = make_folder("methods", "oil", raw, origin="published")
    method = section(folder=folder, name="methods", build=build_method)["oil"]
    assert folder.problems == []
    assert method.parts == (PartNeed("oil", Decimal("0.5"), Decimal(1), Decimal(2)),)
    assert method.fee == (Decimal(20), Decimal(40))
    assert method.skill is Skill.BASIC
    assert method.origin is Origin.PUBLISHED


def test_an_entry_names_its_own_origin_over_that_of_its_file():
    folder = make_folder("methods", "oil", METHOD | {"origin": "common_practice"}, origin="published")
    assert section(folder=folder, name="methods", build=build_method)["oil"].origin is Origin.COMMON


def test_a_rung_shares_the_origin_of_its_ladder_and_a_ladder_needs_rungs():
    rung = {"name": "Pull", "p": 0.5, "minutes": [1, 2, 3], "harm": 0.01, "force": 0}
    words = {"name": "Stuck", "roles": [], "freed_words": "It moves", "stuck_words": "Still stuck"}
    folder = make_folder("ladders", "slide", words | {"rungs": {"hand": rung}}, origin="common_practice")
    ladder = section(folder=folder, name="ladders", build=build_ladder)["slide"]
    assert ladder.rungs[0].origin is Origin.COMMON
    empty = make_folder("ladders", "slide", words | {"rungs": {}})
    section(folder=empty, name="ladders", build=build_ladder)
    assert [one.reason for one in empty.problems] == ["a ladder needs at least one rung"]
    for count, problems in ((15, 0), (16, 1)):
        folder = make_folder("ladders", "slide", words | {"rungs": {f"r{n}": rung for n in range(count)}})
        section(folder=folder, name="ladders", build=build_ladder)
        assert sum("at most 15 rungs" in one.reason for one in folder.problems) == problems


def test_remedies_are_kept_in_the_order_of_the_file():
    listed = [{"severities": ["light"], "methods": ["look"]}, {"methods": ["replace"]}]
    folder = make_folder("remedies", "leak", listed)
    light, other = build_remedies(folder=folder)
    assert light.severities == (Severity.LIGHT,)
    assert other.severities == tuple(Severity)
    assert folder.problems == []


def test_an_entry_that_is_no_mapping_is_noted():
    folder = make_folder("methods", "oil", "drop")
    entries(folder=folder, name="methods")
    assert [(one.key, one.reason) for one in folder.problems] == [("methods.oil", "expected a mapping")]


def test_a_method_names_what_it_needs_at_parts_of_a_role():
    folder = make_folder("methods", "oil", METHOD | {"needs": ["wipe"], "needs_at": {"bell": ["strip"]}})
    method = section(folder=folder, name="methods", build=build_method)["oil"]
    assert folder.problems == []
    assert method.needs_with("bell") == ("wipe", "strip")
    assert method.needs_with("brace") == ("wipe",)


def test_an_overhaul_says_from_how_many_on():
    raw = {"each": "pads", "method": "repad", "instead_of": ["pad"], "from_count": 9, "because": "they are old."}
    folder = make_folder("overhauls", "pads", raw | {"layouts": ["clarinet"]})
    one = section(folder=folder, name="overhauls", build=build_overhaul)["pads"]
    assert folder.problems == []
    assert one.fits(kind="clarinet_bb", layout="clarinet")
    assert not one.fits(kind="flute", layout="flute")
    few = make_folder("overhauls", "pads", raw | {"from_count": 1})
    section(folder=few, name="overhauls", build=build_overhaul)
    assert [problem.reason for problem in few.problems] == ["expected a whole number from 2 to 100"]
