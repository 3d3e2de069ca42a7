"""The field lists against a second copy of them, in ``tests/rosters.py``.

Sources: "OneRoster: CSV Tables", version 1.1 (2017); "OneRoster: CSV Binding", version 1.2.1 (2023).
"""

import pytest

from loans.rules.roster.standard import STANDARDS
from tests.rosters import HEADERS, HEADERS_1_2

REQUIRED = {
    "orgs": "sourcedId name type",
    "academicSessions": "sourcedId title type startDate endDate schoolYear",
    "courses": "sourcedId title orgSourcedId",
    "classes": "sourcedId title courseSourcedId classType schoolSourcedId termSourcedIds",
    "users": "sourcedId enabledUser orgSourcedIds role username givenName familyName",
    "enrollments": "sourcedId classSourcedId schoolSourcedId userSourcedId role",
}
REQUIRED_1_2 = REQUIRED | {
    "users": "sourcedId enabledUser username givenName familyName",
    "roles": "sourcedId userSourcedId roleType role orgSourcedId",
}


@pytest.mark.parametrize(
    ("version", "headers", "required"), [("1.1", HEADERS, REQUIRED), ("1.2", HEADERS_1_2, REQUIRED_1_2)]
)
def test_each_version_lists_its_columns_in_order_with_those_that_must_be_filled(version, headers, required):
    files = STANDARDS[version].files
    assert {name: ",".join(column.name for column in columns) for name, columns in files.items()} == headers
    filled = {name: " ".join(one.name for one in columns if one.is_required) for name, columns in files.items()}
    assert filled == required


@pytest.mark.parametrize("version", STANDARDS)
def test_what_a_column_points_into_is_read_before_it_or_is_its_own_file(version):
    seen = []
    for name, columns in STANDARDS[version].files.items():
        seen.append(name)
        assert {column.points_to for column in columns} - {""} <= set(seen)


@pytest.mark.parametrize("version", STANDARDS)
def test_every_column_holds_something_known(version):
    for columns in STANDARDS[version].files.values():
        for column in columns:
            assert [bool(column.kind), bool(column.words), bool(column.points_to)].count(True) == 1, column


def test_roles_of_users_differ_between_the_versions():
    old, new = (
        next(
            one.words
            for name in ("roles", "users")
            for one in STANDARDS[version].files.get(name, ())
            if one.name == "role"
        )
        for version in ("1.1", "1.2")
    )
    assert set(old) - set(new) == {"administrator"}
    assert set(new) - set(old) == {
        "counselor", "districtAdministrator", "principal", "siteAdministrator", "systemAdministrator",
    }  # fmt: skip


def test_files_that_a_band_program_has_no_use_for_are_known_by_name_alone():
    assert "demographics" in STANDARDS["1.1"].names
    assert "demographics" not in STANDARDS["1.1"].files
    assert "roles" not in STANDARDS["1.1"].names
    assert "userProfiles" in STANDARDS["1.2"].names
