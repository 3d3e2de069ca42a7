"""How the nightly run went is kept in a file of its own."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.runs import LONGEST, Run, last_runs, note_begun, note_run
from tests.factories import NOW

pytestmark = pytest.mark.pure
LATER = NOW + timedelta(days=1)


@pytest.fixture(autouse=True)
def file(tmp_path, settings):
    settings.RUNS_FILE = tmp_path / "runs.json"
    return settings.RUNS_FILE


def test_a_step_that_fails_keeps_when_it_last_went_well_and_others_stay(file):
    note_run("backup", is_done=True, at=NOW)
    note_run("verify", is_done=False, at=NOW)
    note_run("backup", is_done=False, at=LATER)
    assert last_runs() == {"backup": Run(tried_at=LATER, done_at=NOW), "verify": Run(tried_at=NOW, done_at=None)}
    assert [run.is_done for run in last_runs().values()] == [False, False]
    note_run("verify", is_done=True, at=LATER)
    assert last_runs()["verify"].is_done
    assert file.stat().st_mode & 0o777 == 0o600
    assert list(file.parent.iterdir()) == [file]


def test_what_runs_says_since_when_until_it_ends_or_must_have_been_killed():
    """Common practice, no source."""
    note_run("backup", is_done=True, at=NOW)
    note_begun("backup", at=LATER)
    running = last_runs()["backup"]
    assert (running.done_at, running.begun_at, running.is_running(at=LATER)) == (NOW, LATER, True)
    assert not running.is_running(at=LATER + LONGEST)
    note_run("backup", is_done=False, at=LATER)
    assert last_runs()["backup"] == Run(tried_at=LATER, done_at=NOW)
    note_begun("verify", at=LATER)
    assert last_runs()["verify"].is_running(at=LATER)


@pytest.mark.parametrize(
    "left", [None, "", "{", "[]", '{"backup": 1}', '{"backup": {"tried_at": "soon", "done_at": ""}}']
)
def test_no_file_or_a_damaged_one_is_nothing_noted(file, left):
    if left is not None:
        file.write_text(left)
    assert last_runs() == {}
    note_run("backup", is_done=True, at=NOW)
    assert last_runs()["backup"].is_done
