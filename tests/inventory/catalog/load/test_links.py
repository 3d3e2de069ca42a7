"""References that lead nowhere."""

from __future__ import annotations

from dataclasses import replace

from inventory.catalog.load import FOLDER, catalog
from inventory.catalog.load.folder import read_folder
from inventory.catalog.load.links import check_links
from inventory.catalog.load.problems import Problem
from inventory.catalog.schema import Catalog

TREE = read_folder(folder=FOLDER)


def reasons(broken: Catalog) -> set[tuple[str, str]]:
    return {(one.key, one.reason) for one in check_links(catalog=broken, folder=TREE)}


def test_the_catalog_as_it_stands_has_no_loose_end():
    assert check_links(catalog=catalog(), folder=TREE) == []


def test_a_fault_that_is_taken_away_is_missed_by_all_who_name_it():
    faults = {code: fault for code, fault in catalog().faults.items() if code != "ring_loose"}
    found = reasons(replace(catalog(), faults=faults))
    assert ("roles.body_wood.faults", "no fault called ring_loose") in found
    assert ("remedies.ring_loose", "no fault called ring_loose") in found
    assert ("methods.ring_shim.fixes", "no fault called ring_loose") in found


def test_a_part_without_its_role_names_the_layout():
    roles = {code: role for code, role in catalog().roles.items() if code != "casing"}
    found = check_links(catalog=replace(catalog(), roles=roles), folder=TREE)
    assert (
        Problem("catalog/layouts/piston_brass.yaml", "piston_brass.parts.valve_casing.role", "no role called casing")
        in found
    )


def test_a_fault_without_a_method_names_role_and_kind():
    remedies = tuple(remedy for remedy in catalog().remedies if remedy.fault != "rotor_string")
    found = reasons(replace(catalog(), remedies=remedies))
    assert ("remedies.rotor_string.linkage", "no method for light at horn_double") in found


def test_what_puts_back_is_whole_work_of_a_later_phase():
    trade = catalog()
    wrong = replace(trade.methods["remove_pistons"], put_back=("intake_inspect", "valve_felts", "unknown"))
    found = reasons(replace(trade, methods={**trade.methods, "remove_pistons": wrong}))
    assert ("methods.remove_pistons.put_back", "intake_inspect is of phase 1, earlier than phase 2") in found
    assert ("methods.remove_pistons.put_back", "valve_felts is not done once for the whole instrument") in found
    assert any(where == "methods.remove_pistons.put_back" and "unknown" in why for where, why in found)


def test_an_overhaul_stands_in_for_methods_that_there_are_and_fixes_what_they_fix():
    trade = catalog()
    pads = trade.overhauls["clarinet_pads"]
    broken = replace(pads, instead_of=("pad_reseat", "unknown"), kinds=("kazoo",), layouts=("pipe",))
    bare = replace(trade.methods["repad_clarinet"], fixes=("pad_torn",), whole=False)
    found = reasons(
        replace(trade, overhauls={"clarinet_pads": broken}, methods={**trade.methods, "repad_clarinet": bare})
    )
    assert {
        ("overhauls.clarinet_pads.instead_of", "no method called unknown"),
        ("overhauls.clarinet_pads.kinds", "no kind called kazoo"),
        ("overhauls.clarinet_pads.layouts", "no layout called pipe"),
        ("overhauls.clarinet_pads.method", "repad_clarinet is not done once for the whole instrument"),
        ("overhauls.clarinet_pads.method", "repad_clarinet does not fix pad_leak, which it stands in for"),
    } <= found


def test_what_a_method_needs_at_a_role_is_earlier_work_at_a_role_that_there_is():
    trade = catalog()
    wrong = replace(trade.methods["solder_brace"], needs_at={"bell": ("mount_keys",), "belly": ("strip_keys",)})
    found = reasons(replace(trade, methods={**trade.methods, "solder_brace": wrong}))
    assert ("methods.solder_brace.needs_at.bell", "mount_keys is of phase 7, later than phase 5") in found
    assert ("methods.solder_brace.needs_at", "no role called belly") in found
