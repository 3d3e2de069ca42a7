"""The command: counts, problems, exit codes, and nothing written without --commit."""

from __future__ import annotations

import io
import json

import pytest
from django.core.management import CommandError, call_command

from core.models import Event
from inventory.models import ImportBatch, Instrument

pytestmark = pytest.mark.django_db
GOOD = b"Instrument,Make,Serial\nTpt,Plain,1\nFlute,Plain,2\n"
MIXED = GOOD + b"Nothing known,Plain,3\n"


@pytest.fixture
def written(tmp_path):
    def write(data: bytes, name: str = "list.csv") -> str:
        path = tmp_path / name
        path.write_bytes(data)
        return str(path)

    return write


def run(*args: str) -> tuple[int, str]:
    out = io.StringIO()
    try:
        call_command("import_instruments", *args, stdout=out)
    except SystemExit as end:
        return int(end.code or 0), out.getvalue()
    return 0, out.getvalue()


def test_a_dry_run_counts_and_writes_nothing(school, written):
    code, out = run(written(GOOD), "--school", "elm", "--json")
    assert code == 0
    assert json.loads(out) == {
        "counts": {"new": 2, "already_here": 0, "problem": 0},
        "written": None,
        "problems": [],
    }
    assert not Instrument.objects.exists()
    assert not ImportBatch.objects.exists()
    assert not Event.objects.exists()


def test_problem_rows_are_named_with_column_and_reason_and_the_exit_code_is_one(school, written):
    code, out = run(written(MIXED), "--school", "ELM", "--json")
    told = json.loads(out)
    assert code == 1
    assert told["counts"] == {"new": 2, "already_here": 0, "problem": 1}
    assert [(problem["row"], problem["column"]) for problem in told["problems"]] == [(4, "Instrument")]
    assert "not a kind of instrument" in told["problems"][0]["reason"]


def test_commit_writes_and_a_second_time_adds_nothing(school, written):
    path = written(GOOD)
    assert json.loads(run(path, "--school", "ELM", "--commit", "--json")[1])["written"] == 2
    told = json.loads(run(path, "--school", "ELM", "--commit", "--json")[1])
    assert (told["counts"]["already_here"], told["written"]) == (2, 0)
    assert Instrument.objects.count() == 2


def test_problem_rows_stop_a_commit_and_the_text_says_how_to_go_on(school, written):
    code, out = run(written(MIXED), "--school", "ELM", "--commit")
    assert code == 1
    assert "Nothing was imported" in out
    assert "--skip-problems" in out
    assert not Instrument.objects.exists()


def test_skip_problems_writes_the_new_rows_and_still_ends_with_one(school, written):
    code, out = run(written(MIXED), "--school", "ELM", "--commit", "--skip-problems")
    assert code == 1
    assert "Imported: 2 instruments." in out
    assert Instrument.objects.count() == 2


@pytest.mark.parametrize(
    ("data", "school_code", "words"),
    [
        (GOOD, "NOPE", "Known: ELM"),
        (b"%PDF-1.7", "ELM", "PDF"),
        (b"Make,Serial\nPlain,1\nPlain,2\n", "ELM", "what kind"),
    ],
)
def test_what_cannot_be_used_is_refused_with_exit_code_two(school, written, data, school_code, words):
    with pytest.raises(CommandError, match=words) as refusal:
        run(written(data), "--school", school_code)
    assert refusal.value.returncode == 2


def test_a_file_that_is_not_there_is_refused_with_exit_code_two(school, tmp_path):
    with pytest.raises(CommandError, match="cannot be read") as refusal:
        run(str(tmp_path / "none.csv"), "--school", "ELM")
    assert refusal.value.returncode == 2
