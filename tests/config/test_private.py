import os
import stat
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from config import private
from config.env import SettingError
from config.private import keep_private

pytestmark = pytest.mark.pure


def mode(path):
    return stat.S_IMODE(path.lstat().st_mode)


@pytest.fixture
def left_open(tmp_path):
    """A folder as an older version left it."""
    folder = tmp_path / "var"
    (folder / "media" / "papers").mkdir(parents=True)
    for name in ("hornbook.sqlite3", "hornbook.sqlite3-wal", "media/papers/1.pdf"):
        (folder / name).write_text("x", encoding="utf-8")
        (folder / name).chmod(0o644)
    for path in (folder, folder / "media", folder / "media" / "papers"):
        path.chmod(0o755)
    return folder


def test_what_an_older_version_left_open_is_closed_and_said_once(left_open, capsys):
    database = str(left_open / "hornbook.sqlite3")
    keep_private([left_open, left_open / "media"], [database], must=True)
    assert {mode(path) for path in left_open.rglob("*") if path.is_file()} == {0o600}
    assert {mode(path) for path in (left_open, *left_open.rglob("*")) if path.is_dir()} == {0o700}
    assert capsys.readouterr().err.count("\n") == 1
    keep_private([left_open, left_open / "media"], [database], must=True)
    assert capsys.readouterr().err == ""


def test_a_database_put_back_open_into_a_closed_folder_is_closed(left_open, capsys):
    database = left_open / "hornbook.sqlite3"
    left_open.chmod(0o700)
    keep_private([left_open], [str(database)], must=True)
    assert (mode(database), mode(left_open / "hornbook.sqlite3-wal")) == (0o600, 0o600)
    assert "hornbook.sqlite3-wal could be read" in capsys.readouterr().err


def test_a_link_is_not_followed(left_open, tmp_path):
    other = tmp_path / "other"
    other.write_text("x", encoding="utf-8")
    other.chmod(0o644)
    (left_open / "link").symlink_to(other)
    keep_private([left_open], [], must=True)
    assert mode(other) == 0o644


def test_a_folder_that_all_share_stops_production_and_is_left_alone(tmp_path, capsys):
    shared = tmp_path / "shared"
    shared.mkdir()
    shared.chmod(0o1777)
    with pytest.raises(SettingError, match="not this account's own"):
        keep_private([shared], [], must=True)
    keep_private([shared], [], must=False)
    assert "not this account's own" in capsys.readouterr().err
    assert mode(shared) == 0o1777


def test_what_belongs_to_another_stops_production(left_open, monkeypatch):
    monkeypatch.setattr(private.os, "geteuid", lambda: left_open.stat().st_uid + 1)
    with pytest.raises(SettingError, match="not this account's own"):
        keep_private([left_open], [], must=True)


def test_root_is_sent_to_the_account_of_the_service(left_open, monkeypatch):
    if os.geteuid() == 0:
        os.chown(left_open, 65534, 65534)
    monkeypatch.setattr(private.os, "geteuid", lambda: 0)
    with pytest.raises(SettingError, match="not as root: runuser -u"):
        keep_private([left_open], [], must=False)


def test_what_a_page_or_a_command_writes_is_its_accounts_alone(tmp_path):
    made = tmp_path / "export.csv"
    made.write_text("x", encoding="utf-8")
    saved = Path(default_storage.path(default_storage.save("papers/2026/signature.png", ContentFile(b"x"))))
    assert (mode(made), mode(saved)) == (0o600, 0o600)
    assert {mode(saved.parent), mode(saved.parent.parent)} == {0o700}
