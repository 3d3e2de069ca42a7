"""The command: files first and without a database, counts by file, problems, exit codes, nothing without --commit."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from core.models import Event
from loans.models import Guardian, RosterChoice, Student
from tests.factories import make_school, make_student
from tests.rosters import as_delta, enrollment, files_of, school_rows, user, write_folder, write_zip

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[4]
BAND = ("--course", "band")


@pytest.fixture
def north():
    return make_school(code="NHS")


def run(path, *args):
    out = io.StringIO()
    try:
        call_command("import_roster", str(path), *args, stdout=out)
    except SystemExit as end:
        return int(end.code or 0), out.getvalue()
    return 0, out.getvalue()


def as_told(path, *args):
    code, out = run(path, "--json", *args)
    told = json.loads(out)
    sums = {name: (one["new"], one["changed"], one["left"]) for name, one in told["counts"].items()}
    return code, told, sums


@pytest.mark.parametrize("version", ["1.1", "1.2"])
@pytest.mark.parametrize("pack", [write_folder, write_zip])
def test_a_dry_run_counts_and_writes_nothing(tmp_path, north, version, pack):
    path = pack(tmp_path / "roster", files_of(school_rows(), version=version))
    code, told, sums = as_told(path, "--school", "nhs", *BAND)
    assert (code, told["problems"], told["written"]) == (0, [], False)
    assert told["counts"]["users.csv"]["rows"] == 7
    assert sums["users.csv"] == (4, 0, 0)  # two students, two guardians
    assert sums["classes.csv"] == (1, 0, 0)
    assert sums["enrollments.csv"] == (2, 0, 0)
    assert sums["orgs.csv"] == (0, 0, 0)
    assert not Student.objects.exists()
    assert not Event.objects.exists()


def test_committed_it_takes_in_the_chosen_people_alone_and_a_second_time_nothing(tmp_path, north):
    path = write_zip(tmp_path / "roster.zip", files_of(school_rows()))
    code, told, _ = as_told(path, "--school", "NHS", *BAND, "--commit")
    assert (code, told["written"]) == (0, True)
    assert set(Student.objects.values_list("sort_name", "sourced_id")) == {
        ("Rivera, Ana", "s-1"),
        ("Okafor, Ben", "s-2"),
    }
    assert set(Guardian.objects.values_list("name", flat=True)) == {"Luz Rivera", "Ada Okafor"}
    events = Event.objects.count()
    code, told, sums = as_told(path, "--school", "NHS", "--commit")  # the choice is remembered
    assert (code, told["written"], set(sums.values())) == (0, True, {(0, 0, 0)})
    assert Event.objects.count() == events


def test_the_schools_are_found_by_the_identifiers_of_the_organizations(tmp_path, north):
    rows = school_rows()
    other = {"sourcedId": "school-2", "name": "South", "type": "school", "identifier": "SHS"}
    rows["orgs"].append(other)
    rows["classes"].append(rows["classes"][0] | {"sourcedId": "band-7", "schoolSourcedId": "school-2"})
    rows["enrollments"].append(enrollment("e-7", "band-7", "s-3", schoolSourcedId="school-2"))
    path = write_zip(tmp_path / "roster.zip", files_of(rows))
    code, told, _ = as_told(path, "--school-from-orgs", *BAND, "--commit")
    assert code == 1
    assert [(one["file"], one["row"], one["column"]) for one in told["problems"]] == [
        ("classes.csv", 4, "schoolSourcedId")
    ]
    assert not Student.objects.exists()
    south = make_school(code="SHS")
    assert as_told(path, "--school-from-orgs", *BAND, "--commit")[0] == 0
    assert list(Student.objects.filter(school=south).values_list("sourced_id", flat=True)) == ["s-3"]
    assert Student.objects.filter(school=north).count() == 2


def test_a_roster_of_many_schools_gives_one_school_its_own_classes(tmp_path, north):
    rows = school_rows()
    rows["orgs"].append({"sourcedId": "school-2", "name": "South", "type": "school", "identifier": "SHS"})
    rows["classes"].append(rows["classes"][0] | {"sourcedId": "band-7", "schoolSourcedId": "school-2"})
    rows["enrollments"].append(enrollment("e-7", "band-7", "s-3", schoolSourcedId="school-2"))
    as_told(write_zip(tmp_path / "roster.zip", files_of(rows)), "--school", "NHS", *BAND, "--commit")
    assert set(Student.objects.values_list("sourced_id", flat=True)) == {"s-1", "s-2"}


@pytest.mark.parametrize("commit", [[], ["--commit"]])
def test_problems_stop_everything_and_each_has_its_place(tmp_path, north, commit):
    files = files_of(school_rows())
    files["users.csv"] = files["users.csv"].replace(b"school-1,student,s-1", b"school-1,Student,s-1")
    path = write_zip(tmp_path / "roster.zip", files)
    code, told, _ = as_told(path, "--school", "NHS", *BAND, *commit)
    assert code == 1
    (problem,) = told["problems"]
    assert (problem["file"], problem["row"], problem["column"]) == ("users.csv", 3, "role")
    assert "student" in problem["reason"]
    assert not Student.objects.exists()
    assert "users.csv, row 3, role:" in run(path, "--school", "NHS", *BAND, *commit)[1]


def test_a_chosen_course_that_is_not_there_is_a_problem_so_nobody_is_taken_for_gone(tmp_path, north):
    path = write_zip(tmp_path / "roster.zip", files_of(school_rows()))
    as_told(path, "--school", "NHS", *BAND, "--commit")
    rows = school_rows()
    rows["courses"][0]["sourcedId"] = rows["classes"][0]["courseSourcedId"] = "band-27"
    code, told, _ = as_told(write_zip(path, files_of(rows)), "--school", "NHS", "--commit")
    assert (code, told["problems"][0]["file"]) == (1, "courses.csv")
    assert not Student.objects.exclude(left_on=None).exists()


def test_the_same_name_has_to_be_settled_by_a_person(tmp_path, north):
    make_student(school=north, name="Ana Rivera")
    path = write_zip(tmp_path / "roster.zip", files_of(school_rows()))
    code, told, _ = as_told(path, "--school", "NHS", *BAND, "--commit")
    assert code == 1
    assert (told["problems"][0]["row"], told["problems"][0]["column"]) == (3, "familyName")
    assert Student.objects.count() == 1


def test_changes_come_in_after_a_whole_roster(tmp_path, north):
    path = write_zip(tmp_path / "roster.zip", files_of(school_rows()))
    as_told(path, "--school", "NHS", *BAND, "--commit")
    rows = as_delta({"users": [user("s-2", "student", "Ben", "Okafor-Hill", identifier="40018", grades="10")]})
    rows["users"] += as_delta({"users": [user("s-1", "student", "Ana", "Rivera")]}, status="tobedeleted")["users"]
    code, _, sums = as_told(write_zip(path, files_of(rows, mode="delta")), "--school", "NHS", "--commit")
    assert (code, sums["users.csv"]) == (0, (0, 1, 1))
    assert Student.objects.get(sourced_id="s-1").left_on is not None
    assert Student.objects.get(sourced_id="s-2").name == "Ben Okafor-Hill"


def test_without_a_choice_it_lists_the_courses_and_writes_nothing(tmp_path, north):
    path = write_zip(tmp_path / "roster.zip", files_of(school_rows()))
    code, out = run(path, "--school", "NHS")
    assert code == 0
    assert "band  Concert Band (2 students)" in out
    with pytest.raises(CommandError, match="--course") as refused:
        run(path, "--school", "NHS", "--commit")
    assert refused.value.returncode == 2
    assert not RosterChoice.objects.exists()


def test_a_path_that_cannot_be_read_and_a_school_that_is_not_there(tmp_path, north):
    for path in (tmp_path / "nowhere", write_zip(tmp_path / "roster.zip", {})):
        if path.exists():
            path.write_bytes(b"no zip file")
        with pytest.raises(CommandError) as refused:
            run(path, "--school", "NHS")
        assert refused.value.returncode == 2
    with pytest.raises(CommandError, match="NHS") as refused:
        run(write_zip(tmp_path / "roster.zip", files_of(school_rows())), "--school", "none", *BAND)
    assert refused.value.returncode == 2
    with pytest.raises(CommandError):
        run(tmp_path)


@pytest.mark.parametrize(("spoil", "code"), [(b"student", 0), (b"Student", 1)])
def test_files_are_checked_without_a_database_and_none_is_made(tmp_path, spoil, code):
    files = files_of(school_rows())
    files["users.csv"] = files["users.csv"].replace(b"school-1,student", b"school-1," + spoil)
    path, database = write_folder(tmp_path / "roster", files), tmp_path / "none.sqlite3"
    done = subprocess.run(
        [sys.executable, "manage.py", "import_roster", str(path), "--school", "NHS", "--json"],
        cwd=ROOT,
        env=os.environ | {"DATABASE_URL": f"sqlite:///{database}", "HORNBOOK_VAR_DIR": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == code, done.stderr
    told = json.loads(done.stdout)
    assert len(told["problems"]) == 3 * code
    assert told["counts"]["users.csv"]["rows"] == 7
    assert not database.exists()


def test_with_a_database_that_is_not_migrated_the_files_alone_are_checked(tmp_path, north):
    path = write_folder(tmp_path / "roster", files_of(school_rows()))
    MigrationRecorder(connection).migration_qs.filter(app="loans", name__startswith="0031").delete()
    code, told, sums = as_told(path, "--school", "NHS", *BAND)
    assert (code, told["counts"]["users.csv"]["rows"], set(sums.values())) == (0, 7, {(0, 0, 0)})
    assert "not of this version" in run(path, "--school", "NHS", *BAND)[1]
    with pytest.raises(CommandError, match="not of this version") as refused:
        run(path, "--school", "NHS", *BAND, "--commit")
    assert refused.value.returncode == 2
    assert not Student.objects.exists()


def test_what_is_printed_names_nobody(tmp_path, north):
    make_student(school=north, name="Ana Rivera")
    files = files_of(school_rows())
    out = run(write_zip(tmp_path / "roster.zip", files), "--school", "NHS", *BAND)[1]
    files["users.csv"] = files["users.csv"].replace(b"Ana,Rivera", b",Rivera")
    out += run(write_zip(tmp_path / "roster.zip", files), "--school", "NHS", *BAND, "--json")[1]
    assert "Rivera" not in out
    assert "Okafor" not in out
