"""A backup made while others write is put back elsewhere, whole or not at all, and forgets who was erased since."""

from __future__ import annotations

import io
import json
import tarfile
import threading
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pyrage
import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections
from django.utils import timezone

from core.backups import database
from core.models import EventHead
from inventory.catalog.figures import TIME_ZONE
from inventory.models import ProblemReport
from inventory.selectors.figures import leave
from inventory.services.care import report_problem
from inventory.services.figures import set_figures
from loans.models import Agreement, Loan, Student
from loans.services import add_student, erase_student
from tests.factories import NOW, make_director, make_district, make_instrument, make_student
from tests.loans.makers import make_agreement, make_loan
from tests.places import all_files, all_rows, another_place

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, settings):
    settings.VAR_DIR = tmp_path / "var"
    settings.VAR_DIR.mkdir()
    settings.MEDIA_ROOT = tmp_path / "media"
    settings.MEDIA_ROOT.mkdir()
    settings.ERASURES_FILE = ""


@pytest.fixture
def backup(tmp_path):
    make_agreement()
    call_command("backup", tmp_path / "one.tar")
    return tmp_path / "one.tar"


def restore(*words):
    """Restore, and return what it printed; what verify says of rows that makers made is not asked here."""
    out = io.StringIO()
    with suppress(CommandError):
        call_command("restore", *words, stdout=out)
    assert "Restored the backup" in out.getvalue()
    return out.getvalue()


def refused(*words):
    with pytest.raises(CommandError) as ended:
        call_command("restore", *words)
    assert ended.value.returncode == 2
    assert str(ended.value).lower().count("nothing was restored") == 1
    return str(ended.value)


def is_empty(media):
    assert not any(media.iterdir()), "half a place is left"
    assert database.place_problem() == ""


def test_rows_and_files_come_back_as_they_were(tmp_path, settings):
    make_agreement()
    call_command("work", "--once")
    rows, files = all_rows(), all_files(settings.MEDIA_ROOT)
    call_command("backup", tmp_path / "one.tar")
    with another_place(tmp_path / "new", settings):
        out = restore(tmp_path / "one.tar")
        assert all_rows() == rows
        assert all_files(settings.MEDIA_ROOT) == files
        assert "3 files" in out
        assert "instruments checked" in out
        make_instrument()  # keys go on where they were
    assert len(files) == 3


@pytest.mark.parametrize("rounds", [1, pytest.param(20, marks=pytest.mark.drill)])
def test_one_made_while_others_write_is_one_moment_of_it(tmp_path, settings, rounds):
    director = make_director()
    school = director.staff_roles.get().school
    enough = threading.Event()

    def write() -> None:
        try:
            while not enough.is_set():
                student = add_student(school=school, actor=director, at=NOW, name="Sam Slide", grade="6")
                make_agreement(make_loan(school=school, student=student, actor=director))
        finally:
            connections.close_all()

    for number in range(rounds):
        before = Loan.objects.count()
        enough.clear()
        writers = [threading.Thread(target=write) for _ in range(2)]
        for writer in writers:
            writer.start()
        while Loan.objects.count() < before + 2:
            pass
        call_command("backup", tmp_path / f"{number}.tar")
        enough.set()
        for writer in writers:
            writer.join()
        manifest = manifest_of(tmp_path / f"{number}.tar")
        with another_place(tmp_path / f"new{number}", settings):
            restore(tmp_path / f"{number}.tar")
            assert (EventHead.objects.get().last_number, EventHead.objects.get().last_hash) == tuple(manifest["head"])
            assert Loan.objects.count() == manifest["counts"]["loans_loan"] >= before + 2
            for agreement in Agreement.objects.all():
                assert agreement.student_signature.storage.exists(agreement.student_signature.name)
            out = io.StringIO()
            with suppress(CommandError):
                call_command("verify", stdout=out)
            assert "event" not in [line.split()[0] for line in out.getvalue().splitlines()]


def manifest_of(path: Path) -> dict[str, object]:
    with tarfile.open(path) as tar:
        return json.loads(tar.extractfile("manifest.json").read())


@pytest.mark.parametrize("how", ["key", pytest.param("passphrase", marks=pytest.mark.drill)])
def test_an_encrypted_one_opens_with_its_own_secret_alone(tmp_path, settings, how):
    make_agreement()
    mine, other, lock = tmp_path / "mine", tmp_path / "other", tmp_path / "lock"
    if how == "key":
        identity = pyrage.x25519.Identity.generate()
        mine.write_text(str(identity))
        lock.write_text(str(identity.to_public()))
        other.write_text(str(pyrage.x25519.Identity.generate()))
        call_command("backup", tmp_path / "one", "--to", lock)
    else:
        mine.write_text("valve oil and patience")
        other.write_text("rotor oil and patience")
        call_command("backup", tmp_path / "one", "--passphrase", mine)
    with another_place(tmp_path / "new", settings):
        assert "Name the file with" in refused(tmp_path / "one")
        words = refused(tmp_path / "one", f"--{how}", other)
        assert words == "The key or passphrase does not open this backup. Nothing was restored."
        is_empty(settings.MEDIA_ROOT)
        assert "2 files" in restore(tmp_path / "one", f"--{how}", mine)


def test_a_backup_is_checked_whole_where_there_is_a_place_already_and_nothing_is_written(tmp_path, settings, backup):
    def check(*words) -> str:
        out = io.StringIO()
        call_command("restore", *words, "--check", stdout=out)
        return out.getvalue()

    identity = pyrage.x25519.Identity.generate()
    lock, key = tmp_path / "lock", tmp_path / "key"
    lock.write_text(str(identity.to_public()))
    key.write_text(str(identity))
    call_command("backup", tmp_path / "closed", "--to", lock)
    before = all_rows(), all_files(settings.MEDIA_ROOT), sorted(settings.VAR_DIR.iterdir())
    for said in (check(backup), check(tmp_path / "closed", "--key", key)):
        assert said.startswith("Whole: the backup of ")
        assert "2 files. Nothing was restored." in said
    assert "Name the file with the key" in refused(tmp_path / "closed", "--check")
    data = backup.read_bytes()
    backup.write_bytes(data[: len(data) // 2])
    assert "cut off or damaged" in refused(backup, "--check")
    assert (all_rows(), all_files(settings.MEDIA_ROOT), sorted(settings.VAR_DIR.iterdir())) == before
    with another_place(tmp_path / "new", settings):
        backup.write_bytes(data)
        assert check(backup).startswith("Whole: ")
        assert not Path(settings.MEDIA_ROOT).exists()
        assert database.place_problem() == ""


def rewritten(path: Path, change) -> Path:
    """The same backup with its parts changed by ``change``, a function of {name: data}."""
    with tarfile.open(path) as tar:
        parts = {entry.name: tar.extractfile(entry).read() for entry in tar}
    parts = change(parts) or parts
    new = path.with_name("changed.tar")
    with tarfile.open(new, "w") as tar:
        for name, data in parts.items():
            entry = tarfile.TarInfo(name)
            entry.size = len(data)
            tar.addfile(entry, io.BytesIO(data))
    return new


def a_file(parts):
    return next(name for name in parts if name.startswith("files/"))


def with_manifest(parts, **changes):
    return parts | {"manifest.json": json.dumps(json.loads(parts["manifest.json"]) | changes).encode()}


FAULTS = {
    "a-file-changed": (lambda parts: parts | {a_file(parts): b"other"}, "is not as its manifest says"),
    "a-file-missing": (lambda parts: {k: v for k, v in parts.items() if k != a_file(parts)}, "The backup lacks files/"),
    "a-file-more": (lambda parts: {"files/x": b"", **parts}, "holds files/x, which its manifest does not name"),
    "a-way-out": (lambda parts: {"files/../../x": b"", **parts}, "which does not belong in one"),
    "no-manifest": (lambda parts: {k: v for k, v in parts.items() if k != "manifest.json"}, "cut off or damaged"),
    "no-json": (lambda parts: parts | {"manifest.json": b"{"}, "manifest of the backup cannot be read"),
    "another-manifest": (lambda parts: with_manifest(parts, counts={"loans_loan": 7}), "loans_loan has 1 rows"),
    "a-later-format": (lambda parts: with_manifest(parts, format=9), "has format 9"),
    "a-newer-version": (
        lambda parts: with_manifest(parts, migrations=["loans.9999_x"], version="9.0"), "of a newer version, 9.0"
    ),
    "another-database": (lambda parts: with_manifest(parts, kind="another"), "The backup is of another"),
    "a-longer-list": (lambda parts: with_manifest(parts, erasures=2), "had 2 lines when the backup was made and has 0"),
}  # fmt: skip


@pytest.mark.parametrize(("change", "says"), FAULTS.values(), ids=FAULTS)
def test_what_is_not_whole_is_refused_in_a_sentence_and_leaves_the_place_empty(
    tmp_path, settings, backup, change, says
):
    path = rewritten(backup, change)
    with another_place(tmp_path / "new", settings):
        words = refused(path)
        assert says in words
        assert words.endswith("Nothing was restored.")
        is_empty(settings.MEDIA_ROOT)


def test_cut_off_anywhere_it_is_refused(tmp_path, settings, backup):
    data = backup.read_bytes()
    with tarfile.open(backup) as tar:
        last = tar.getmember("manifest.json")
    end = last.offset_data + last.size  # behind it is padding
    with another_place(tmp_path / "new", settings):
        for length in (0, 700, end // 3, end // 2, last.offset, end - 1):
            backup.write_bytes(data[:length])
            assert "cut off or damaged" in refused(backup)
            is_empty(settings.MEDIA_ROOT)
        backup.unlink()
        assert "There is no " in refused(backup)


def test_a_place_in_use_is_refused_and_kept(tmp_path, settings, backup):
    assert "already" in refused(backup)
    with another_place(tmp_path / "new", settings):
        settings.MEDIA_ROOT.mkdir()
        (settings.MEDIA_ROOT / "mine").write_text("kept")
        assert "There are files in" in refused(backup)
        assert (settings.MEDIA_ROOT / "mine").read_text() == "kept"


def test_a_list_of_erasures_that_cannot_be_read_is_said_in_a_sentence(tmp_path, settings, backup):
    with another_place(tmp_path / "new", settings):
        assert refused(backup, "--erasures", tmp_path) == "Is a directory. Nothing was restored."


def test_what_the_district_set_holds_for_all_that_follows(tmp_path, settings):
    make_district()
    now = timezone.now()
    set_figures(values={TIME_ZONE: "America/New_York"}, effective_on=timezone.localdate(now), actor=None, at=now)
    call_command("backup", tmp_path / "one.tar")
    leave()
    made = datetime.fromisoformat(manifest_of(tmp_path / "one.tar")["made_at"])
    with another_place(tmp_path / "new", settings):
        out = restore(tmp_path / "one.tar")
        assert f"backup of {made.astimezone(ZoneInfo('America/New_York')):%Y-%m-%d %H:%M}" in out


def test_a_failure_at_the_end_takes_everything_back(tmp_path, settings, backup, monkeypatch):
    def broken(name, **_options):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("desk.management.commands.restore.call_command", broken)
    with another_place(tmp_path / "new", settings):
        assert refused(backup) == "No space left on device. Nothing was restored."
        is_empty(settings.MEDIA_ROOT)


def test_who_was_erased_after_it_is_erased_again_even_with_an_instrument_out(tmp_path, settings, backup):
    director, student = make_director(), Student.objects.get()
    Loan.objects.update(returned_at=NOW)
    erase_student(
        student=student, actor=director, at=timezone.now(), meant=["inventory.finding:1:note"], nicknames=["Bo"]
    )
    noted = Path(f"{settings.MEDIA_ROOT}.erased")
    assert student.name not in noted.read_text()
    assert noted.stat().st_mode & 0o777 == 0o600
    with another_place(tmp_path / "new", settings):
        assert "had 0 lines" not in restore(backup, "--erasures", noted)
        again = Student.objects.get()
        assert again.name == ""
        assert again.erased_at is not None
        assert not Agreement.objects.get().student_signature
        assert Loan.objects.get().returned_at is None
        assert Path(f"{settings.MEDIA_ROOT}.erased").read_text().startswith(noted.read_text())


def test_who_was_erased_long_before_it_is_left_alone(tmp_path, settings):
    """Keys may be given again after a restore: what an older line of the list names may be somebody else by now."""
    student = make_student()
    erase_student(student=student, actor=None, at=timezone.now() - timedelta(days=1))
    Student.objects.update(name="Somebody Else", erased_at=None)
    call_command("backup", tmp_path / "one.tar")
    with another_place(tmp_path / "new", settings):
        out = restore(tmp_path / "one.tar", "--without-erasures")
        assert "0 students who were erased" in out
        assert Student.objects.get().name == "Somebody Else"


def test_texts_with_other_names_that_were_typed_are_erased_whole(tmp_path, settings):
    loan = make_loan()
    for text in ("Bo says it sticks", "the slide sticks"):
        report_problem(instrument=loan.instrument, text=text, at=NOW)
    said, other = ProblemReport.objects.order_by("pk").values_list("pk", flat=True)
    key = f"inventory.problemreport:{said}:text"
    call_command("backup", tmp_path / "one.tar")
    Loan.objects.update(returned_at=NOW)
    erase_student(student=loan.student, actor=None, at=timezone.now(), meant=[key], nicknames=["Bo"])
    assert ProblemReport.objects.get(pk=said).text == "[erased] says it sticks"
    noted = Path(f"{settings.MEDIA_ROOT}.erased")
    assert "Bo" not in noted.read_text()
    with another_place(tmp_path / "new", settings):
        out = restore(tmp_path / "one.tar", "--erasures", noted)
        assert f"was erased with other names too, which the list does not hold; erased whole: {key}." in out
        assert dict(ProblemReport.objects.values_list("pk", "text")) == {said: "[erased]", other: "the slide sticks"}


@pytest.mark.postgresql
@pytest.mark.parametrize("name", ["pg_dump", "pg_restore"])
def test_without_the_program_of_postgresql_it_says_what_to_install(tmp_path, settings, backup, monkeypatch, name):
    monkeypatch.setattr(database, "ROOT_OF_PROGRAMS", tmp_path)
    monkeypatch.setattr(database.shutil, "which", lambda _name: None)
    words = f"{name} is not installed here: install the package postgresql-client."
    if name == "pg_dump":
        with pytest.raises(CommandError, match=words):
            call_command("backup", tmp_path / "two.tar")
        return
    with another_place(tmp_path / "new", settings):
        assert words in refused(backup)
        is_empty(settings.MEDIA_ROOT)
    assert connection.vendor == "postgresql"
