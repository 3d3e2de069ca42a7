"""What docs/operating/ ships holds: commands that exist, settings that start, limits that let a photo through."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
from pathlib import Path

import pytest
import yaml
from django.conf import settings
from django.core.management import get_commands

from tests.config.test_settings import SAFE, start
from tests.test_docs import documented_variables

ROOT = Path(__file__).resolve().parent.parent
SHIPPED = ROOT / "docs" / "operating"
UNITS = [path for path in sorted((SHIPPED / "systemd").glob("hornbook-*.*")) if path.is_file()]
pytestmark = pytest.mark.pure


def text(name: str) -> str:
    return (SHIPPED / name).read_text(encoding="utf-8")


def settings_of(example: str) -> dict[str, str]:
    """The settings of the example, those behind a # too."""
    lines = re.findall(r"^#?([A-Z_]+=\S*)$", example, re.MULTILINE)
    return dict(word.split("=", 1) for word in shlex.split("\n".join(lines)))


def test_every_command_that_is_shipped_exists():
    shipped = [*(path.read_text(encoding="utf-8") for path in UNITS), text("compose.yaml")]
    named = {name for one in shipped for name in re.findall(r"manage\.py (\w+)", one)}
    assert named >= {"migrate", "collectstatic", "work", "metrics", "nightly"}
    assert named - get_commands().keys() == set()


def test_every_alert_watches_what_the_metrics_say():
    (group,) = yaml.safe_load(text("alerts.yaml"))["groups"]
    watched = set(re.findall(r"hornbook_\w+", " ".join(rule["expr"] for rule in group["rules"])))
    said = (ROOT / "desk/management/commands/metrics.py").read_text("utf-8") + (ROOT / "core/metrics.py").read_text(
        "utf-8"
    )
    assert {name.removesuffix("_total") for name in watched} <= set(re.findall(r"hornbook_\w+", said))


def test_each_unit_runs_what_is_there_and_the_timer_has_its_service():
    folder = "/srv/hornbook/"
    for path in UNITS:
        for command in re.findall(r"^Exec\w+=(.+)$", path.read_text(encoding="utf-8"), re.MULTILINE):
            program, *words = command.split()
            assert program == f"{folder}.venv/bin/python"
            assert all((ROOT / word).exists() for word in words if word.endswith(".py"))
    assert {path.suffix for path in UNITS if path.stem == "hornbook-nightly"} == {".service", ".timer"}


def test_the_units_are_held_in():
    held = text("systemd/hornbook-.service.d/common.conf")
    for line in (
        "User=hornbook",
        "UMask=0077",
        "NoNewPrivileges=yes",
        "ProtectSystem=strict",
        "CapabilityBoundingSet=",
    ):
        assert f"\n{line}\n" in held


def test_every_setting_in_the_examples_is_one():
    named = set(re.findall(r"\b(?:HORNBOOK_[A-Z_]*[A-Z]|DATABASE_URL)\b", text("hornbook.env") + text("compose.yaml")))
    assert named - documented_variables() == set()


def test_the_example_of_settings_starts_a_production_once_it_has_a_secret(tmp_path):
    example = settings_of(text("hornbook.env"))
    assert example["HORNBOOK_SECRET_KEY"] == ""
    assert "verify-full&sslrootcert=system" in example["DATABASE_URL"]
    here = example | {"HORNBOOK_VAR_DIR": str(tmp_path)}
    assert "HORNBOOK_SECRET_KEY" in start(tmp_path, **here).stderr
    complete = here | {"HORNBOOK_SECRET_KEY": SAFE["HORNBOOK_SECRET_KEY"]}
    assert start(tmp_path, **complete).stdout.strip() == "started"


@pytest.mark.parametrize(
    ("name", "limit", "unit"),
    [("nginx.conf", r"client_max_body_size (\d+)m", 2**20), ("Caddyfile", r"max_size (\d+)MB", 10**6)],
)
def test_the_web_server_in_front_lets_the_largest_photo_through_and_no_more_than_needed(name, limit, unit):
    (megabytes,) = re.findall(limit, text(name))
    assert settings.PHOTO_MAX_BYTES < int(megabytes) * unit < 2 * settings.PHOTO_MAX_BYTES


def test_nginx_replaces_what_a_client_says_of_itself_on_every_way_to_us():
    ways = text("nginx.conf").count("proxy_pass ")
    assert ways > 0
    for line in ("X-Forwarded-For $remote_addr", "X-Forwarded-Proto $scheme", "Host $host", 'X-Forwarded-Host ""'):
        assert text("nginx.conf").count(f"proxy_set_header {line};") == ways


def test_the_command_runs_as_the_service_does(tmp_path):
    """With its account and its settings, whatever stands in them."""
    (tmp_path / "runuser").write_text('#!/bin/sh\necho "$@"\necho "$DATABASE_URL|$(pwd)|$(umask)"\n', encoding="utf-8")
    (tmp_path / "runuser").chmod(0o755)
    given = tmp_path / "hornbook.env"
    given.write_text(text("hornbook.env").replace("#DATABASE_URL", "DATABASE_URL"), encoding="utf-8")
    run = subprocess.run(
        ["sh", SHIPPED / "hornbook", "explain", "CF-0001", "--json"],
        env={
            "PATH": f"{tmp_path}:{os.environ['PATH']}", "FOLDER": str(tmp_path), "SETTINGS": str(given),
        },
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    first, second = run.stdout.splitlines()
    assert first == "-u hornbook -- .venv/bin/python manage.py explain CF-0001 --json"
    assert second.endswith(f"?sslmode=verify-full&sslrootcert=system|{tmp_path}|0077")


def test_the_containers_share_one_database_and_keep_their_data():
    composed = yaml.safe_load(text("compose.yaml"))["services"]
    app, database = composed["app"], composed["database"]
    assert "@database:5432/hornbook" in app["environment"]["DATABASE_URL"]
    assert database["environment"]["POSTGRES_DB"] == "hornbook"
    assert any(volume.endswith(f":{app['environment']['HORNBOOK_VAR_DIR']}") for volume in app["volumes"])
    assert all(port.startswith("127.0.0.1:") for port in app["ports"])
    steps = text("Containerfile")
    assert {word for word in re.findall(r"scripts/\w+\.sh", steps) if not (ROOT / word).exists()} == set()
    assert "USER hornbook" in steps
