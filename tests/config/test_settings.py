"""A production start refuses what would be unsafe. Each start is a process of its own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.pure

ROOT = Path(__file__).resolve().parent.parent.parent
SAFE = {
    "HORNBOOK_PRODUCTION": "1",
    "HORNBOOK_SECRET_KEY": "p4Wz-8rTqLm2Vx_0NcYbKd7GhJs5FtRe3UaQo9ZiXw1BvMnCl6",
    "HORNBOOK_ALLOWED_HOSTS": "horns.district.example",
    "HORNBOOK_PUBLIC_ADDRESS": "https://horns.district.example",
}


def start(tmp_path, **changes):
    surroundings = {
        "PATH": os.environ["PATH"],
        "HORNBOOK_VAR_DIR": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    } | {name: value for name, value in (SAFE | changes).items() if value is not None}
    return subprocess.run(
        [sys.executable, "-c", "from django.conf import settings; settings.SECRET_KEY; print('started')"],
        cwd=ROOT, env=surroundings, capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip


def test_a_safe_production_starts(tmp_path):
    assert start(tmp_path).stdout.strip() == "started"


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"HORNBOOK_SECRET_KEY": None}, "HORNBOOK_SECRET_KEY"),
        ({"HORNBOOK_SECRET_KEY": "short"}, "HORNBOOK_SECRET_KEY"),
        ({"HORNBOOK_SECRET_KEY": "a" * 60}, "HORNBOOK_SECRET_KEY"),
        ({"HORNBOOK_DEBUG": "1"}, "HORNBOOK_DEBUG"),
        ({"HORNBOOK_ALLOWED_HOSTS": "*"}, "HORNBOOK_ALLOWED_HOSTS"),
        ({"HORNBOOK_ALLOWED_HOSTS": None}, "HORNBOOK_ALLOWED_HOSTS"),
        ({"HORNBOOK_PUBLIC_ADDRESS": "http://horns.district.example"}, "HORNBOOK_PUBLIC_ADDRESS"),
        ({"HORNBOOK_PUBLIC_ADDRESS": "horns"}, "HORNBOOK_PUBLIC_ADDRESS"),
    ],
)
def test_an_unsafe_production_refuses_to_start_and_says_why(tmp_path, changes, named):
    run = start(tmp_path, **changes)
    assert run.returncode != 0
    assert named in run.stderr
