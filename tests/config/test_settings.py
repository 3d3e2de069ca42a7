"""A production start refuses what would be unsafe. Each start is a process of its own."""

import json
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


def start(tmp_path, *, show="'started'", cwd=ROOT, **changes):
    surroundings = {
        "PYTHONPATH": str(ROOT),
        "PATH": os.environ["PATH"],
        "HORNBOOK_VAR_DIR": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "config.settings",
    } | {name: value for name, value in (SAFE | changes).items() if value is not None}
    return subprocess.run(
        [sys.executable, "-c", f"from django.conf import settings; settings.SECRET_KEY; print({show})"],
        cwd=cwd, env=surroundings, capture_output=True, text=True, timeout=60, check=False,
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


def make_demo(folder):
    demo = folder / "demo.sqlite3"
    with closing(sqlite3.connect(demo)) as connection:
        connection.execute("CREATE TABLE django_migrations (id INTEGER)")
    return demo


def test_production_never_takes_the_demo_for_the_installation(tmp_path):
    make_demo(tmp_path)
    assert start(tmp_path).stdout.strip() == "started"


@pytest.mark.parametrize("way", ["itself", "relative", "link", "hard link", "a file in a linked folder"])
def test_production_knows_the_demo_by_whatever_name(tmp_path, way):
    demo = make_demo(tmp_path)
    match way:
        case "itself":
            path = str(demo)
        case "relative":
            path = os.path.relpath(demo, ROOT)
        case "link":
            path = str(tmp_path / "hornbook.sqlite3")
            Path(path).symlink_to(demo)
        case "hard link":
            path = str(tmp_path / "hornbook.sqlite3")
            os.link(demo, path)
        case _:
            (tmp_path / "real").symlink_to(tmp_path)
            path = str(tmp_path / "real" / "demo.sqlite3")
    refused = start(tmp_path, DATABASE_URL=f"sqlite:///{path}", HORNBOOK_DEMO="0")
    assert "names the demo" in refused.stderr
    assert refused.returncode == 1


def test_production_serves_no_link_to_the_demo_that_nobody_named(tmp_path):
    (tmp_path / "hornbook.sqlite3").symlink_to(make_demo(tmp_path))
    assert "names the demo" in start(tmp_path).stderr


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("DATABASE_URL", "postgresql://band:pass@h/n?sslmod=verify-full"),
        ("HORNBOOK_HSTS_SECONDS", "a day"),
        ("HORNBOOK_LOG_FORMAT", "xml"),
        ("HORNBOOK_MEDIA_DIR", "/proc/nowhere"),
        ("HORNBOOK_PROXIES", "-1"),
        ("HORNBOOK_PUBLIC_ADDRESS", "https://[horns"),
        ("HORNBOOK_SECRET_KEY", ""),
        ("HORNBOOK_TIME_ZONE", "America"),
        ("HORNBOOK_VAR_DIR", "/proc/nowhere"),
    ],
)
def test_a_wrong_setting_is_one_sentence_on_standard_error(tmp_path, name, value):
    refused = start(tmp_path, **{name: value})
    assert refused.returncode == 1
    assert refused.stdout == ""
    assert refused.stderr.count("\n") == 1
    assert refused.stderr.startswith(name)


def test_a_relative_folder_is_the_same_wherever_the_command_is_run(tmp_path):
    relative = os.path.relpath(tmp_path / "data", ROOT)
    shown = "settings.DATABASES['default']['NAME'], settings.MEDIA_ROOT"
    found = [start(tmp_path, show=shown, cwd=cwd, HORNBOOK_VAR_DIR=relative).stdout.strip() for cwd in (ROOT, tmp_path)]
    assert found[0] == found[1] != ""


def test_browsers_are_told_to_refuse_plain_http_for_a_day_at_first_and_on_this_host_alone(tmp_path):
    shown = "settings.SECURE_HSTS_SECONDS, settings.SECURE_HSTS_INCLUDE_SUBDOMAINS, settings.SECURE_HSTS_PRELOAD"
    assert start(tmp_path, show=shown).stdout.strip() == "86400 False False"
    assert start(tmp_path, show=shown, HORNBOOK_HSTS_SECONDS="31536000").stdout.strip() == "31536000 False False"


def test_each_line_of_the_log_can_be_json_with_the_requests_id(tmp_path):
    script = (
        "import django, logging; django.setup(); from core.request_id import request_id_var as v; v.set('abc');"
        "log = logging.getLogger('hornbook'); log.warning('it is\\n%s', 'late');\ntry: 1 / 0\n"
        "except ZeroDivisionError: log.exception('not divided')"
    )
    run = start(tmp_path, show=f"exec({script!r}) or ''", HORNBOOK_LOG_FORMAT="json")
    first, second = (json.loads(line) for line in run.stderr.splitlines())
    assert (first["request_id"], first["level"], first["logger"], first["message"]) == (
        "abc", "WARNING", "hornbook", "it is\nlate",
    )  # fmt: skip
    assert first["time"]
    assert "ZeroDivisionError" in second["exc_info"]
