"""What the catalog says of parts holds together within each kind."""

from __future__ import annotations

import re

import pytest

from inventory.catalog.load import catalog

KINDS = catalog().kinds


@pytest.mark.parametrize("code", KINDS)
def test_codes_of_parts_and_places_name_one_thing_each(code):
    parts = KINDS[code].parts
    codes = [part.code for part in parts]
    assert len(set(codes)) == len(codes)
    assert [name for name in codes if not re.fullmatch(r"[a-z0-9_]+", name)] == []
    for part in parts:
        places = [place.code for place in part.places]
        assert len(set(places)) == len(places), part.code


@pytest.mark.parametrize("code", KINDS)
def test_a_part_branches_off_one_that_the_kind_has(code):
    codes = {part.code for part in KINDS[code].parts}
    assert {part.drawn_on for part in KINDS[code].parts} - codes <= {""}


def test_what_is_missing_can_be_said_of_every_role():
    assert [role.code for role in catalog().roles.values() if "missing_part" not in role.faults] == []


def test_a_part_is_said_with_its_place():
    piston = KINDS["trumpet"].part("piston")
    assert (piston.at("2"), piston.at("")) == ("pistons, valve 2", "pistons")


def test_a_place_that_the_catalog_has_no_more_keeps_its_code():
    assert KINDS["trumpet"].part("piston").at("9") == "pistons, 9"
