import socket
from contextlib import closing
from datetime import timedelta
from urllib.request import urlopen

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError
from django.utils import timezone
from prometheus_client import generate_latest, start_http_server

from core.runs import note_run
from desk.management.commands.metrics import make_registry


@pytest.fixture
def look(settings, tmp_path, monkeypatch):
    """What a look shows. The test's one connection is kept: it holds the rows."""
    monkeypatch.setattr("desk.management.commands.metrics.connections.close_all", lambda: None)
    settings.METRICS_DIR = tmp_path / "metrics"
    return lambda: generate_latest(make_registry()).decode()


@pytest.mark.django_db
def test_a_look_says_what_the_database_says(look, settings):
    shown = look()
    assert f'hornbook_version{{version="{settings.VERSION}"}} 1.0' in shown
    assert "hornbook_database_up 1.0" in shown
    assert 'hornbook_tasks{state="ready"} 0.0' in shown
    assert "hornbook_papers_due 0.0" in shown


def gauge(shown, name):
    return float(shown.split(f"\n{name} ")[1].split()[0])


@pytest.mark.usefixtures("_no_database")
def test_how_the_nightly_run_went_is_said_also_without_a_database(look, settings, tmp_path):
    settings.RUNS_FILE = tmp_path / "runs.json"
    assert "_age_seconds " not in look(), "nothing is noted yet"
    now = timezone.now()
    note_run("backup", is_done=True, at=now - timedelta(days=2))
    for step in ("verify", "backup", "nightly"):
        note_run(step, is_done=step == "verify", at=now - timedelta(hours=1))
    shown = look()
    assert 'hornbook_nightly_done{step="verify"} 1.0' in shown
    assert 'hornbook_nightly_done{step="backup"} 0.0' in shown
    assert 3600 <= gauge(shown, "hornbook_nightly_age_seconds") < 4600
    assert 2 * 86400 <= gauge(shown, "hornbook_backup_age_seconds") < 2 * 86400 + 1000


@pytest.fixture
def _no_database(monkeypatch):
    def away(**_kwargs):
        raise OperationalError

    monkeypatch.setattr("desk.management.commands.metrics.gauges", away)


@pytest.mark.usefixtures("_no_database")
def test_without_a_database_a_look_says_so_and_still_answers(look):
    shown = look()
    assert "hornbook_database_up 0.0" in shown
    assert "hornbook_papers_due" not in shown


@pytest.mark.usefixtures("_no_database")
def test_it_is_answered_as_text_on_this_machine_alone(look, settings):
    assert settings.METRICS_HOST == "127.0.0.1"
    look()
    server, thread = start_http_server(0, settings.METRICS_HOST, make_registry())
    try:
        with urlopen(f"http://127.0.0.1:{server.server_port}/metrics") as answer:
            assert answer.headers["Content-Type"].startswith("text/plain; version=")
            assert b"hornbook_database_up 0.0" in answer.read()
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def test_a_port_that_is_taken_or_not_named_is_said(settings, tmp_path, monkeypatch):
    settings.METRICS_DIR = tmp_path / "metrics"
    asked = []
    monkeypatch.setattr("desk.management.commands.metrics.open_only_what_is_there", lambda: asked.append(True))
    with pytest.raises(CommandError, match="HORNBOOK_METRICS_PORT"):
        call_command("metrics")
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(CommandError, match="cannot be answered"):
            call_command("metrics", port=taken.getsockname()[1])
    assert asked, "a look at a database that is gone would make an empty one"
