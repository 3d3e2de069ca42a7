"""Numbers read exactly, and the commands that take them: alone on standard output, without a database."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from decimal import Decimal

import pytest
from django.conf import settings
from django.core.management import CommandError

from inventory.management.arguments import read_decimal, read_whole


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0.95", "0.95"),
        (".05", "0.05"),
        ("1.", "1"),
        ("-3", "-3"),
        ("5e-2", "0.05"),
        ("0.1234567890123456789012345678", "0.1234567890123456789012345678"),
        ("999999999999999", "999999999999999"),
    ],
)
def test_a_number_is_read_as_it_is_written(text, number):
    assert read_decimal(text, name="--rate") == Decimal(number)


@pytest.mark.parametrize("text", ["", "x", "NaN", "inf", "0,95", "95%", "1_0", "٥", " 1", "1e9999", "0" * 61])
def test_what_is_no_number_is_refused(text):
    with pytest.raises(CommandError, match=r"--rate must be a number such as 0\.05") as refusal:
        read_decimal(text, name="--rate")
    assert refusal.value.returncode == 2


@pytest.mark.parametrize("text", ["1e15", "1e-31", "1000000000000000", "1e999", "1e-999"])
def test_a_number_that_would_take_forever_is_refused(text):
    with pytest.raises(CommandError, match="at most 15 digits before the point and 30 after it"):
        read_decimal(text, name="--rate")


def test_a_whole_number_is_read():
    assert read_whole("007", name="--size") == 7


@pytest.mark.parametrize("text", ["", "-1", "1.0", "1e3", "٥", "1" * 13])
def test_what_is_no_whole_number_is_refused(text):
    with pytest.raises(CommandError, match="--size must be a whole number from 0 up") as refusal:
        read_whole(text, name="--size")
    assert refusal.value.returncode == 2


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run a command of ours where no database can be opened."""
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=settings.BASE_DIR,
        env=os.environ | {"DATABASE_URL": "sqlite:////nowhere/at/all.sqlite3"},
        capture_output=True,
        text=True,
        check=False,
    )


def test_json_stands_alone_on_standard_output_without_a_database():
    ran = run("sample_size", "--confidence", "0.95", "--tolerable", "0.05", "--expected", "0", "--json")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert json.loads(ran.stdout) == {"size": 59, "allowed": 0, "model": "binomial"}


def test_a_refusal_is_one_sentence_beside_it_and_status_two():
    ran = run("sample_limit", "--size", "60", "--deviations", "61", "--confidence", "0.95", "--json")
    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr == "CommandError: 61 deviations do not fit a sample of 60.\n"
