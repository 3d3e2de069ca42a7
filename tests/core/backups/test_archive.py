"""What a backup may hold, by name; the rest is tried whole, by backup and restore."""

from __future__ import annotations

import pytest

from core.backups.archive import _safe, placed_files, read_manifest
from core.exceptions import BackupError


@pytest.mark.parametrize("name", ["database", "files/photos/2026/a.jpg"])
def test_names_of_a_backup_are_taken(name):
    assert _safe(name) == name


@pytest.mark.parametrize(
    "name", ["files", "files/", "/files/a", "files/../a", "other", "database/a", "files/..", "files/a\\b"]
)
def test_other_names_are_refused(name):
    with pytest.raises(BackupError):
        _safe(name)


@pytest.mark.parametrize("text", [b"", b"[]", b'{"format": 1}', b'{"made_at": 3}', b"\xff"])
def test_what_is_no_manifest_is_refused(text):
    with pytest.raises(BackupError, match="cannot be read"):
        read_manifest(text)


def test_files_leave_the_place_again_when_the_rest_fails(tmp_path):
    files, place = tmp_path / "files", tmp_path / "place"
    for folder in (files / "a", place):
        folder.mkdir(parents=True)
    with placed_files(files, place):
        assert (place / "a").exists()
    (place / "a").rename(files / "a")
    with pytest.raises(KeyError), placed_files(files, place):
        raise KeyError
    assert (files / "a").exists()
    assert not (place / "a").exists()
