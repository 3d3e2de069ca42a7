"""The database or the disk gives out under requests: a page, one line in the log, nothing half done, and recovery."""

from __future__ import annotations

import logging
import resource
import signal
import socket
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import close_old_connections, connection
from django.urls import reverse

from core.models import Event, User
from core.outages import open_only_what_is_there
from inventory.models import Photo
from loans.models import Agreement, Loan
from loans.services import sign_agreement
from tests.factories import make_director, make_ready_instrument, make_student
from tests.loans.makers import make_lending_form
from tests.pictures import jpeg
from tests.places import all_files

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def staff(client, monkeypatch):
    """A logged-in browser that shows what a visitor would see of a failure, from a server that checks its connections.

    The test client leaves out what the server does at the start of each request.
    """
    client.raise_request_exception = False
    ask = client.request

    def request(**asked):
        close_old_connections()
        return ask(**asked)

    monkeypatch.setattr(client, "request", request)
    client.force_login(make_director())
    assert client.get(reverse("desk:scan")).status_code == 200
    return client


def told_once(caplog) -> str:
    """The one line that the request left in the log."""
    (line,) = [record for record in caplog.records if record.levelno >= logging.WARNING]
    assert line.exc_info is None
    caplog.clear()
    return line.getMessage()


def is_out(answer, caplog, what="The database does not answer right now."):
    assert answer.status_code == 503
    assert what in " ".join(answer.text.split())
    assert answer.headers["X-Request-Id"] in answer.text
    assert answer.headers["Cache-Control"] == "no-store"
    return told_once(caplog)


def is_ill(staff, caplog):
    assert staff.get("/healthz").status_code == 503
    told_once(caplog)


def goes_on(staff, caplog):
    """Afterward everything works at the first try, without a word in the log."""
    assert staff.get("/healthz").status_code == 200
    assert staff.get(reverse("desk:scan")).status_code == 200
    assert not [record for record in caplog.records if record.levelno >= logging.WARNING]


@contextmanager
def elsewhere(**entry: object) -> Iterator[None]:
    """The default connection leads elsewhere, as if what it leads to had changed."""
    own = {key: connection.settings_dict[key] for key in entry}
    connection.close()
    connection.settings_dict.update(entry)
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict.update(own)


def moved(folder: Path) -> str:
    return str(folder / "gone.sqlite3")


def a_folder(folder: Path) -> str:
    (folder / "db").mkdir()
    return str(folder / "db")


def damaged(folder: Path) -> str:
    (folder / "x.sqlite3").write_bytes(b"not a database " * 500)
    return str(folder / "x.sqlite3")


def emptied(folder: Path) -> str:
    (folder / "x.sqlite3").touch()
    return str(folder / "x.sqlite3")


@pytest.mark.sqlite
@pytest.mark.parametrize("fault", [moved, a_folder, damaged, emptied])
def test_a_file_that_is_not_a_database(staff, caplog, tmp_path, fault):
    name = fault(tmp_path)
    with elsewhere(NAME=name):
        open_only_what_is_there()
        for address in (reverse("desk:scan"), reverse("core:log-in")):
            assert "the database gave out" in is_out(staff.get(address), caplog)
        is_ill(staff, caplog)
        assert fault is not moved or not Path(name).exists(), "an empty database was made in its place"
    goes_on(staff, caplog)


@pytest.mark.sqlite
def test_a_file_that_somebody_else_holds(staff, caplog):
    options = connection.settings_dict["OPTIONS"] | {"timeout": 0.1, "init_command": ""}
    name = connection.settings_dict["NAME"]
    with elsewhere(OPTIONS=options), closing(sqlite3.connect(name, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = staff.post(reverse("core:log-out"))
        assert "locked" in is_out(answer, caplog)
        other.execute("ROLLBACK")
    goes_on(staff, caplog)


class Way:
    """A way to PostgreSQL that can be closed and opened again, as a server that is stopped and started."""

    def __init__(self, host: str, port: int) -> None:
        self.goal, self.pairs = (host, port), []
        self.open()

    def open(self, port: int = 0) -> None:
        self.door = socket.create_server(("127.0.0.1", port))
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self._let_in, args=[self.door], daemon=True).start()

    def _let_in(self, door: socket.socket) -> None:
        with suppress(OSError):
            while True:
                here, _ = door.accept()
                there = socket.create_connection(self.goal)
                self.pairs += [here, there]
                for one, other in ((here, there), (there, here)):
                    threading.Thread(target=self._carry, args=[one, other], daemon=True).start()

    @staticmethod
    def _carry(one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                other.sendall(data)
        with suppress(OSError):
            other.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        for one in (self.door, *self.pairs):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
        self.pairs = []


@pytest.mark.postgresql
def test_a_server_that_is_stopped_and_started_again(staff, caplog):
    entry = connection.settings_dict
    way = Way(str(entry["HOST"]), int(entry["PORT"]))
    with elsewhere(HOST="127.0.0.1", PORT=str(way.port)):
        goes_on(staff, caplog)
        for _ in range(3):
            way.close()
            is_out(staff.get(reverse("desk:scan")), caplog)
            is_ill(staff, caplog)
            way.open(way.port)
            goes_on(staff, caplog)
        way.close()


@pytest.mark.postgresql
def test_connections_that_the_server_ended_between_requests_cost_no_request(staff, caplog):
    for _ in range(3):
        end_connections()
        goes_on(staff, caplog)


def end_connections() -> None:
    import psycopg

    entry = connection.settings_dict
    asked = {"host": entry["HOST"], "port": entry["PORT"], "user": entry["USER"], "password": entry["PASSWORD"]}
    with psycopg.connect(dbname=entry["NAME"], autocommit=True, **asked) as other:
        other.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE pid <> pg_backend_pid() AND datname = current_database()"
        )


def made_by(staff):
    return User.objects.get(pk=staff.session["_auth_user_id"]).staff_roles.get().school


def lend(staff, instrument, typed):
    return staff.post(reverse("desk:lend-this", args=[instrument.asset_number]), typed)


@pytest.fixture
def lending(staff):
    instrument = make_ready_instrument(school=made_by(staff))
    return instrument, make_lending_form(make_student(school=instrument.school))


@pytest.mark.postgresql
def test_a_connection_that_ends_in_the_middle_of_an_act_leaves_nothing_of_it(staff, caplog, monkeypatch, lending):
    def ends(**asked):
        agreement = sign_agreement(**asked)
        end_connections()
        return agreement

    with monkeypatch.context() as patch:
        patch.setattr("desk.services.signing.sign_agreement", ends)
        is_out(lend(staff, *lending), caplog)
    assert not Loan.objects.exists()
    answer = lend(staff, *lending)
    assert answer.status_code == 302
    assert Agreement.objects.count() == 1


NO_FILES = "Files cannot be saved or read right now"


def unchanged(events):
    assert not Loan.objects.exists()
    assert Event.objects.count() == events


def test_a_media_folder_that_is_gone_saves_nothing_and_is_not_made_anew(staff, caplog, settings, lending, tmp_path):
    events = Event.objects.count()
    own, settings.MEDIA_ROOT = settings.MEDIA_ROOT, tmp_path / "gone"
    is_out(lend(staff, *lending), caplog, NO_FILES)
    unchanged(events)
    assert not (tmp_path / "gone").exists()
    settings.MEDIA_ROOT = own
    assert lend(staff, *lending).status_code == 302


@contextmanager
def small_files(most: int) -> Iterator[None]:
    """No file of this process may grow beyond so many bytes: what a full disk does. SQLite's are open elsewhere."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, before)


@pytest.mark.postgresql
def test_a_disk_full_under_the_files_saves_nothing_of_the_loan(staff, caplog, lending, settings):
    events, files = Event.objects.count(), all_files(Path(settings.MEDIA_ROOT))
    with small_files(10):
        answer = lend(staff, *lending)
    is_out(answer, caplog, NO_FILES)
    unchanged(events)
    assert all_files(Path(settings.MEDIA_ROOT)) == files
    assert lend(staff, *lending).status_code == 302


@pytest.mark.sqlite
def test_a_disk_full_under_database_and_files_saves_nothing(staff, caplog, lending, settings):
    events = Event.objects.count()
    with small_files(4096):  # less than the database has grown to, and than what a page adds to its log
        answer = lend(staff, *lending)
    is_out(answer, caplog)
    unchanged(events)
    assert lend(staff, *lending).status_code == 302


def test_a_full_disk_refuses_a_photo_and_keeps_none(staff, caplog, monkeypatch, settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path  # where the same picture is not there yet
    instrument = make_ready_instrument(school=made_by(staff))

    def full(*_asked, **_named):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("core.storage.FileSystemStorage._save", full)
        address = reverse("inventory:photos", args=[instrument.asset_number])
        is_out(staff.post(address, {"photo": SimpleUploadedFile("a.jpg", jpeg(), "image/jpeg")}), caplog, NO_FILES)
    assert not Photo.objects.exists()
