import io

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError

from core.runs import last_runs
from desk.management.commands import nightly
from tests.factories import make_district
from tests.opening import open_made

pytestmark = pytest.mark.django_db
MADE = "hornbook-2026-01-15-030000.tar"


def run(**options):
    said, wrong = io.StringIO(), io.StringIO()
    try:
        call_command("nightly", stdout=said, stderr=wrong, **options)
    except CommandError as error:
        return str(error), said.getvalue(), wrong.getvalue()
    return "", said.getvalue(), wrong.getvalue()


@pytest.fixture(autouse=True)
def _own_runs(settings, tmp_path_factory):
    settings.RUNS_FILE = tmp_path_factory.mktemp("runs") / "runs.json"


def test_a_disk_that_is_full_keeps_no_step_from_running(settings, tmp_path):
    make_district()
    open_made()
    settings.RUNS_FILE = tmp_path / "nowhere" / "runs.json"
    failed, said, wrong = run()
    assert failed == ""
    assert "0 differences" in said
    assert "verify: how it went could not be noted" in wrong


@pytest.fixture
def backups(monkeypatch, tmp_path):
    """A folder with a backup of long ago; today's is only noted, and made in test_backup.py."""
    real = nightly.call_command
    asked = []

    def call(name, *args, **options):
        if name == "backup":
            asked.append((args, options.get("to")))
            return None
        return real(name, *args, **options)

    monkeypatch.setattr(nightly, "call_command", call)
    for name in (MADE, MADE + ".age", "hornbook-2026-01-15.tar", "other.tar"):
        (tmp_path / name).touch()
    return tmp_path, asked


def test_every_step_runs_and_says_so():
    make_district()
    open_made()
    failed, said, _ = run()
    assert failed == ""
    assert [line[3:] for line in said.splitlines() if line.startswith("== ")] == [name for name, _ in nightly.STEPS]
    assert "0 differences" in said


def test_what_fails_is_named_and_keeps_no_other_from_running(monkeypatch, backups):
    make_district()
    open_made()
    folder, asked = backups
    real = nightly.call_command

    def broken(name, *args, **options):
        if name == "forget_lists":
            raise OperationalError("the disk is full")
        return real(name, *args, **options)

    monkeypatch.setattr(nightly, "call_command", broken)
    failed, said, wrong = run(backup=folder)
    assert failed == "Failed: forget_lists"
    steps = [name for name, _ in nightly.STEPS]
    assert {name: one.is_done for name, one in last_runs().items()} == {
        name: name not in {"forget_lists", "nightly"} for name in [*steps, "backup", "nightly"]
    }
    assert "forget_lists: the disk is full" in wrong
    assert "== verify" in said
    assert len(asked) == 1


def test_older_backups_go_once_todays_is_made_and_nothing_else_does(backups):
    make_district()
    open_made()
    folder, asked = backups
    assert run(backup=folder, keep=30, to=folder / "key")[0] == ""
    assert asked == [((str(folder),), folder / "key")]
    assert sorted(path.name for path in folder.iterdir()) == ["hornbook-2026-01-15.tar", "other.tar"]


def test_without_todays_backup_the_older_ones_stay(backups, tmp_path):
    make_district()
    open_made()
    folder, asked = backups
    assert run(backup=tmp_path / "nowhere", keep=30)[0] == "Failed: backup"
    assert last_runs()["backup"].done_at is None
    assert run(backup=folder)[0] == ""
    assert asked == [((str(folder),), None)]
    assert (folder / MADE).exists()
