"""What the manifest must say. Source: "OneRoster: CSV Tables", version 1.1 (2017)."""

import pytest

from loans.rules.roster.manifest import read_manifest
from loans.rules.roster.problems import Problems
from loans.rules.roster.sources import FolderSource
from tests.rosters import files_of, manifest_of, school_rows, write_folder


def read(tmp_path, files):
    problems = Problems()
    return read_manifest(FolderSource(write_folder(tmp_path, files)), problems), problems.all()


@pytest.mark.parametrize(("version", "mode"), [("1.1", "bulk"), ("1.1", "delta"), ("1.2", "bulk"), ("1.2", "delta")])
def test_it_says_version_and_what_each_file_is(tmp_path, version, mode):
    files = files_of(school_rows(), version=version, mode=mode)
    manifest, problems = read(tmp_path, files)
    assert problems == ()
    assert manifest.standard.version == version
    assert {f"{name}.csv": how for name, how in manifest.modes.items()} == {
        name: mode for name in files if name != "manifest.csv"
    }


@pytest.mark.parametrize(
    ("line", "instead", "place", "words"),
    [
        ("manifest.version,1.0", "manifest.version,2.0", (2, "value"), "must be 1.0"),
        ("oneroster.version,1.1", "oneroster.version,1.3", (3, "value"), "not one of"),
        ("oneroster.version,1.1\r\n", "", (None, "propertyName"), "missing"),
        ("file.users,bulk", "file.users,Bulk", (8, "value"), "not one of"),
        ("file.users,bulk", "File.users,bulk", (8, "propertyName"), "no property"),
        ("file.users,bulk", "file.orgs,bulk", (8, "propertyName"), "twice"),
        ("file.users,bulk", "file.users", (8, ""), "two cells"),
        ("file.demographics,absent", "file.demographics,bulk", (10, "value"), "demographics.csv"),
        ("file.demographics,absent", "file.roles,absent", (10, "propertyName"), "no property"),
        ("propertyName,value", "PropertyName,Value", (1, ""), "header"),
    ],
)
def test_what_it_must_not_say(tmp_path, line, instead, place, words):
    files = files_of(school_rows())
    said = files["manifest.csv"].decode()
    assert line in said
    _, problems = read(tmp_path, files | {"manifest.csv": said.replace(line, instead).encode()})
    assert ("manifest.csv", *place) in {(one.file, one.row, one.column) for one in problems}
    assert words in " ".join(one.reason for one in problems)


def test_a_file_that_it_names_and_that_is_not_there_and_the_reverse(tmp_path):
    files = files_of(school_rows())
    del files["courses.csv"]
    files["manifest.csv"] = files["manifest.csv"].replace(b"file.users,bulk", b"file.users,absent")
    manifest, problems = read(tmp_path, files)
    assert [(one.file, one.column, one.reason) for one in problems] == [
        ("manifest.csv", "value", "courses.csv is named here but is not there."),
        ("users.csv", "", "The file is there, but the manifest does not say so."),
    ]
    assert manifest.missing == {"courses"}
    assert manifest.modes["users"] == "bulk"  # checked all the same


def test_without_one_the_files_are_checked_all_the_same(tmp_path):
    files = files_of(school_rows(), version="1.2")
    del files["manifest.csv"]
    manifest, problems = read(tmp_path, files)
    assert [(one.file, one.row) for one in problems] == [("manifest.csv", None)]
    assert manifest.standard.version == "1.2"
    assert manifest.modes["roles"] == "bulk"


def test_names_of_files_are_told_apart_by_capital_letters(tmp_path):
    files = files_of(school_rows())
    files |= {"Users.csv": files.pop("users.csv"), "extra.csv": b"a\r\nb\r\n"}
    _, problems = read(tmp_path, files)
    assert {one.file for one in problems} == {"Users.csv", "extra.csv", "manifest.csv"}


def test_a_file_that_is_known_but_of_no_use_is_not_read(tmp_path):
    files = files_of(school_rows())
    files["demographics.csv"] = b"\xff\x00not looked at"
    files["manifest.csv"] = files["manifest.csv"].replace(b"demographics,absent", b"demographics,bulk")
    manifest, problems = read(tmp_path, files)
    assert problems == ()
    assert "demographics" not in manifest.modes


@pytest.mark.parametrize("data", [b"", b"propertyName,value\r\n", b"x" * 70_000])
def test_an_empty_or_unreadable_one_is_told(tmp_path, data):
    _, problems = read(tmp_path, files_of(school_rows()) | {"manifest.csv": data})
    assert problems[0].file == "manifest.csv"


def test_metadata_beside_its_two_columns_are_tolerated(tmp_path):
    files = files_of(school_rows())
    files["manifest.csv"] = b"".join(
        line + (b",metadata.by" if number == 0 else b",me") + b"\n"
        for number, line in enumerate(files["manifest.csv"].splitlines())
    )
    assert read(tmp_path, files)[1] == ()
    assert read(tmp_path / "again", files | {"manifest.csv": manifest_of([])})[1]
