"""A production start refuses what would be unsafe. Each start is a process of its own."""

import os
import sqlite3
import subprocess
import sys
from contextlib import closing
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
    assert start(tmp_path, HORNBOOK_ALLOWED_HOSTS=".district.example").stdout.strip() == "started"


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"HORNBOOK_SECRET_KEY": None}, "HORNBOOK_SECRET_KEY"),
        ({"HORNBOOK_SECRET_KEY": "short"}, "HORNBOOK_SECRET_KEY"),
        ({"HORNBOOK_SECRET_KEY": "a" * 60}, "HORNBOOK_SECRET_KEY"),
        ({"HORNBOOK_DEBUG": "1"}, "HORNBOOK_DEBUG"),
        ({"HORNBOOK_ALLOWED_HOSTS": "*"}, "HORNBOOK_ALLOWED_HOSTS"),
        ({"HORNBOOK_ALLOWED_HOSTS": None}, "HORNBOOK_ALLOWED_HOSTS"),
        ({"HORNBOOK_ALLOWED_HOSTS": "horns.district.example,.example"}, "HORNBOOK_ALLOWED_HOSTS"),
        ({"HORNBOOK_ALLOWED_HOSTS": "*.district.example"}, "HORNBOOK_ALLOWED_HOSTS"),
        ({"HORNBOOK_ALLOWED_HOSTS": "other.example"}, "HORNBOOK_PUBLIC_ADDRESS"),
        ({"HORNBOOK_SECRET_KEY": "django-insecure-" + SAFE["HORNBOOK_SECRET_KEY"]}, "HORNBOOK_SECRET_KEY"),
        ({"HORNBOOK_DEMO": "1"}, "HORNBOOK_DEMO"),
        ({"HORNBOOK_PUBLIC_ADDRESS": "http://horns.district.example"}, "HORNBOOK_PUBLIC_ADDRESS"),
        ({"HORNBOOK_PUBLIC_ADDRESS": "horns"}, "HORNBOOK_PUBLIC_ADDRESS"),
    ],
)
def test_an_unsafe_production_refuses_to_start_and_says_why(tmp_path, changes, named):
    run = start(tmp_path, **changes)
    assert run.returncode != 0
    assert named in run.stderr


def test_production_never_takes_the_demo_for_the_installation(tmp_path):
    demo = tmp_path / "demo.sqlite3"
    with closing(sqlite3.connect(demo)) as connection:
        connection.execute("CREATE TABLE django_migrations (id INTEGER)")
    assert start(tmp_path).stdout.strip() == "started"
    refused = start(tmp_path, DATABASE_URL=f"sqlite:///{demo}")
    assert "names the demo" in refused.stderr
