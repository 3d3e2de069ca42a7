"""``manage.py backup``: one checked file for this account only, while others work."""

from __future__ import annotations

import tarfile
from pathlib import Path

import pyrage
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management import CommandError, call_command

from core.erasures import noted_erasures
from core.runs import last_runs
from loans.models import Agreement, Student
from tests.factories import NOW, make_student
from tests.loans.makers import make_agreement

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _own_folders(tmp_path, settings):
    settings.VAR_DIR = tmp_path / "var"
    settings.VAR_DIR.mkdir()
    settings.ERASURES_FILE = str(tmp_path / "erased")


def refused(*words):
    with pytest.raises(CommandError) as ended:
        call_command("backup", *words)
    return str(ended.value), ended.value.returncode


def test_it_is_named_after_the_moment_and_only_this_account_reads_it(tmp_path, capsys):
    make_agreement()
    call_command("backup", tmp_path)
    (made,) = tmp_path.glob("hornbook-*.tar")
    assert made.stat().st_mode & 0o777 == 0o600
    assert str(made) in capsys.readouterr().out
    assert list((tmp_path / "var").iterdir()) == []  # the copy it was made from is gone


def test_a_terminal_is_shown_how_many_files_are_in_it_and_a_log_is_not(tmp_path, capsys, monkeypatch):
    agreement = make_agreement()
    files = 2 if agreement.guardian_signature else 1
    call_command("backup", tmp_path / "one.tar")
    assert " files\n" not in capsys.readouterr().out.partition("one.tar")[0]
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    call_command("backup", tmp_path / "two.tar")
    assert f"\r{files} of {files} files\n" in capsys.readouterr().out


def test_it_holds_the_files_that_rows_name_and_no_other(tmp_path):
    agreement = make_agreement()
    default_storage.save("signatures/stray.png", ContentFile(b"ink"))
    call_command("backup", tmp_path / "one.tar")
    with tarfile.open(tmp_path / "one.tar") as tar:
        files = {name for name in tar.getnames() if name.startswith("files/")}
    assert files == {f"files/{name}" for name in (agreement.student_signature.name, agreement.guardian_signature.name)}


def test_a_name_that_is_taken_is_refused_and_kept(tmp_path):
    (tmp_path / "one.tar").write_text("mine")
    assert refused(tmp_path / "one.tar") == (f"{tmp_path / 'one.tar'} is there already.", 2)
    assert (tmp_path / "one.tar").read_text() == "mine"


def test_a_folder_that_is_not_there_is_said_in_a_sentence(tmp_path):
    words, code = refused(tmp_path / "no" / "one.tar")
    assert (words, code) == ("The backup was not made: No such file or directory.", 2)
    run = last_runs()["backup"]
    assert (run.is_done, run.begun_at) == (False, None)


def test_a_file_that_a_row_names_and_that_is_not_there_is_named_and_ends_with_one(tmp_path, capsys):
    agreement = make_agreement()
    default_storage.delete(agreement.student_signature.name)
    words, code = refused(tmp_path / "one.tar")
    assert (words, code) == ("The backup is made, but 1 files that rows name are not there.", 1)
    assert f"not there: {agreement.student_signature.name}" in capsys.readouterr().out


def test_a_file_deleted_while_it_runs_is_no_fault(tmp_path, monkeypatch):
    agreement = make_agreement()
    from core.backups import archive

    opened = archive.default_storage.open

    def erased_meanwhile(name, mode):
        if name == agreement.student_signature.name and default_storage.exists(name):
            Agreement.objects.update(student_signature="")
            default_storage.delete(name)
        return opened(name, mode)

    monkeypatch.setattr(archive.default_storage, "open", erased_meanwhile)
    call_command("backup", tmp_path / "one.tar")


@pytest.mark.parametrize(
    ("option", "holds", "says"),
    [
        ("--to", "age1nonsense", "does not hold a public key"),
        ("--to", "", "is empty"),
        ("--passphrase", "rotor oil", "shorter than 12 characters"),
        ("--passphrase", None, "cannot be read"),
    ],
)
def test_a_wrong_key_or_passphrase_is_a_sentence_and_is_not_repeated(tmp_path, option, holds, says):
    secret = tmp_path / "secret"
    if holds is not None:
        secret.write_text(holds)
    words, code = refused(tmp_path / "one.tar", option, secret)
    assert says in words
    assert code == 2
    assert not holds or holds not in words
    assert not (tmp_path / "one.tar").exists()


@pytest.mark.parametrize("how", ["key", "passphrase"])
def test_an_encrypted_one_shows_nothing(tmp_path, how, capsys):
    agreement = make_agreement()
    secret = tmp_path / "secret"
    if how == "key":
        secret.write_text(f"# for the office\n{pyrage.x25519.Identity.generate().to_public()}\n")
        call_command("backup", tmp_path / "one", "--to", secret)
    else:
        secret.write_text("valve oil and patience\n")
        call_command("backup", tmp_path / "one", "--passphrase", secret)
    data = (tmp_path / "one").read_bytes()
    assert agreement.loan.student.name.encode() not in data
    assert b"manifest" not in data
    assert "patience" not in capsys.readouterr().out


def test_one_that_the_disk_did_not_keep_is_not_passed_off_as_a_backup(tmp_path, monkeypatch):
    """Encrypted to a key, nobody here can open it; what was written is compared all the same."""
    lock = tmp_path / "lock"
    lock.write_text(str(pyrage.x25519.Identity.generate().to_public()))
    rename = Path.replace

    def and_spoil(part, path):
        rename(part, path)
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 1
        path.write_bytes(data)

    monkeypatch.setattr(Path, "replace", and_spoil)
    words, code = refused(tmp_path / "one", "--to", lock)
    assert (words, code) == (
        f"{tmp_path / 'one'} does not hold what was written to it: the disk is not to be trusted.",
        2,
    )


def test_with_its_key_an_encrypted_one_is_opened_to_check_it(tmp_path, capsys):
    identity = pyrage.x25519.Identity.generate()
    lock, key, other = tmp_path / "lock", tmp_path / "key", tmp_path / "other"
    lock.write_text(str(identity.to_public()))
    key.write_text(str(identity))
    other.write_text(str(pyrage.x25519.Identity.generate()))
    call_command("backup", tmp_path / "one", "--to", lock)
    assert "restore --check" in capsys.readouterr().out
    call_command("backup", tmp_path / "two", "--to", lock, "--key", key)
    assert "restore --check" not in capsys.readouterr().out
    assert refused(tmp_path / "three", "--to", lock, "--key", other) == (
        "The key or passphrase does not open this backup.", 2,
    )  # fmt: skip
    assert refused(tmp_path / "four", "--key", key) == ("--key checks what --to encrypts; name both.", 2)


def test_whoever_is_erased_and_not_on_the_list_is_noted(tmp_path):
    Student.objects.filter(pk=make_student().pk).update(erased_at=NOW)
    for number in range(2):
        call_command("backup", tmp_path / f"{number}.tar")
    assert [(one.row, one.at) for one in noted_erasures()] == [(f"loans.student:{Student.objects.get().pk}", NOW)]


def test_a_full_disk_leaves_no_half_backup(tmp_path, monkeypatch):
    make_agreement()
    import core.backups.archive as module

    def full(*_kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(module, "_add_all", full)
    assert refused(tmp_path / "one.tar") == ("The backup was not made: No space left on device.", 2)
    assert not list(tmp_path.glob("one*"))
