"""Ground rules of the suite: a database and files of its own, N+1 fails, and in CI a skipped test is a failed one.

The network is closed but for this machine by pytest-socket (see pyproject.toml).
"""

from __future__ import annotations

import gc
import os
import pickle
import shutil
import tempfile
import traceback
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest
from django.conf import settings
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.utils import translation
from hypothesis import HealthCheck
from hypothesis import settings as property_settings
from zeal.signals import nplusone_detected

from inventory.catalog.load import folder
from inventory.selectors.figures import leave
from inventory.selectors.school_sums import forget_sums

SHOWN_BY_A_POST = {"/log-in/": "Django's own form: who is refused typed a wrong password, and nothing was done"}
IN_CI = os.environ.get("CI", "").lower() in {"1", "true"}
TOUCHES_DATABASE = {"db", "transactional_db", "django_db_reset_sequences", "live_server"}
EVERY_CASE = ("postgresql", "every_case")
APPS = tuple(str(settings.BASE_DIR / app) for app in ("core", "inventory", "repairs", "loans", "desk"))
SHARED_MEMORY = Path("/dev/shm")  # noqa: S108  # only a faster place for tempfile's private folder

_folder: Path | None = None
_alerts: list[str] = []
_shown: list[str] = []


def note_alert(exception: Exception, **_kwargs: Any) -> None:
    """Keep the alert with the line of ours that asked; the row itself may have been read far away."""
    ours = [frame for frame in traceback.extract_stack() if frame.filename.startswith(APPS)]
    where = "".join(f" < {frame.filename}:{frame.lineno}" for frame in ours[:-4:-1])
    _alerts.append(f"{exception}{where}")


nplusone_detected.connect(note_alert)


class PostsLeadOn:
    """Notes every page that a post shows by itself: going back to it, or reloading it, would send the post again.

    A post that did what it was for answers with a redirect, one that was refused with a status of its own. Parts of a
    page for htmx and answers to a script stand in no browser's history, nor does a download.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        is_page = (
            response.headers.get("Content-Type", "").startswith("text/html") and "HX-Request" not in request.headers
        )
        if request.method == "POST" and response.status_code == 200 and is_page and request.path not in SHOWN_BY_A_POST:
            _shown.append(request.path)
        return response


def on_postgresql() -> bool:
    return bool(settings.DATABASES["default"]["ENGINE"].endswith("postgresql"))


def pytest_configure(config: pytest.Config) -> None:
    """Point the settings at a folder that goes with the run, one for each process of it; let no clock fail a property.

    SQLite's test database is a file, not memory: in memory every thread shares one connection, and then neither two
    people at once nor the server under a browser would be the real thing.
    """
    property_settings.register_profile("untimed", deadline=None, suppress_health_check=[HealthCheck.too_slow])
    property_settings.load_profile("untimed")
    global _folder  # noqa: PLW0603  # pytest_unconfigure is called without what this made
    _folder = Path(tempfile.mkdtemp(prefix="hornbook-test-", dir=SHARED_MEMORY if SHARED_MEMORY.is_dir() else None))
    for name in ("media", "static"):
        (_folder / name).mkdir()
    if not on_postgresql():
        settings.DATABASES["default"]["TEST"]["NAME"] = str(_folder / "test.sqlite3")
    settings.MEDIA_ROOT = _folder / "media"
    settings.STATIC_ROOT = _folder / "static"
    settings.WHITENOISE_USE_FINDERS = False  # or each test client reads all files; live_server serves them
    settings.RUNS_FILE = _folder / "runs.json"
    settings.ARCHIVES_DIR, settings.ARCHIVE_KEY_FILE = _folder / "archives", _folder / "archive.key"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.MIDDLEWARE = ["tests.plugins.ground.PostsLeadOn", "zeal.middleware.zeal_middleware", *settings.MIDDLEWARE]


def pytest_unconfigure() -> None:
    if _folder is not None:
        shutil.rmtree(_folder, ignore_errors=True)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark what touches no database, leave out what is about the other one, keep what shares dear rows in one process."""
    other = "sqlite" if on_postgresql() else "postgresql"
    left_out = [item for item in items if item.get_closest_marker(other)]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in left_out]
    for item in items:
        fixtures = set(getattr(item, "fixturenames", ()))
        if not item.get_closest_marker("django_db") and not fixtures & TOUCHES_DATABASE:
            item.add_marker("pure")
        if "shared_rows" in fixtures:
            item.add_marker(pytest.mark.xdist_group(item.nodeid.partition("::")[0]))
    if on_postgresql():
        leave_to_the_drill(items)


def leave_to_the_drill(items: list[pytest.Item]) -> None:
    """Mark what PostgreSQL does not see every day: what pages say, cases but a test's first, and two of three tests.

    A case changes what is asked of the program, seldom the SQL. Where several connections meet, every case counts.
    Which are left is drawn by name, so that it is the same each time and every module has some.
    """
    seen = set()
    for item in items:
        database = item.get_closest_marker("django_db")
        if (database and database.kwargs.get("transaction")) or any(map(item.get_closest_marker, EVERY_CASE)):
            continue
        function = item.nodeid.partition("[")[0]
        if item.get_closest_marker("page") or function in seen or crc32(function.encode()) % 3:
            item.add_marker("drill")
        if not item.get_closest_marker("drill"):
            seen.add(function)


def pytest_collection_finish() -> None:
    """Keep the collector of garbage from walking all tests and the catalog again and again."""
    gc.freeze()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call() -> Generator[None, Any, Any]:
    """Fail the test after it ran if any request in it read rows one by one, wherever the alert was raised."""
    _alerts.clear()
    _shown.clear()
    forget_sums()  # what another test saw of a school with the same key
    leave()  # what another test's district had set
    translation.activate(settings.LANGUAGE_CODE)  # a page asked for in Spanish leaves its thread in Spanish
    result = yield
    if _alerts:
        pytest.fail("One query per row; join it in for_table() or the selector: " + "; ".join(sorted(set(_alerts))))
    if _shown:
        pytest.fail(f"A post that succeeds redirects; shown by the post itself: {', '.join(sorted(set(_shown)))}")
    return result


def _fail_if_skipped(report: Any) -> None:
    if IN_CI and report.skipped and not hasattr(report, "wasxfail"):
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.outcome = "failed"
        report.longrepr = f"In CI a skipped test is a failed one. {reason}"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    _fail_if_skipped(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    report = yield
    _fail_if_skipped(report)
    return report


@pytest.fixture(autouse=True)
def _worker_keeps_the_connection(monkeypatch: pytest.MonkeyPatch) -> None:
    """The worker drops old connections between tasks; inside a test's transaction, as the test client, it must not."""
    monkeypatch.setattr("django_tasks_db.management.commands.db_worker.close_old_connections", lambda: None)


@pytest.fixture(scope="session", autouse=True)
def _documents_parsed_once() -> Iterator[None]:
    """Parse each file of the catalog once: tests load it hundreds of times, with one file changed."""
    known: dict[bytes, bytes] = {}
    parse = folder.parse

    def parse_once(text: bytes) -> Any:
        if text not in known:
            known[text] = pickle.dumps(parse(text))
        return pickle.loads(known[text])  # noqa: S301  # our own bytes; a copy, as a test may change it

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(folder, "parse", parse_once)
        yield


@pytest.fixture(scope="module")
def shared_rows(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """For rows that are dear to make: what a fixture of the module makes on this stays until the module is done.

    Each test of it takes ``db`` too and undoes its own changes, back to these rows.
    """
    with django_db_blocker.unblock(), transaction.atomic():
        yield
        transaction.set_rollback(True)
