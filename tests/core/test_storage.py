"""Kept files are whole and on the disk, and a lost folder is not made again."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.core.files.base import ContentFile

from core.storage import KeptFiles


@pytest.fixture
def storage(tmp_path):
    (tmp_path / "media").mkdir()
    return KeptFiles(location=tmp_path / "media")


def test_a_file_and_its_folder_are_on_the_disk_before_it_is_named(storage, monkeypatch):
    synced = []
    monkeypatch.setattr(
        "core.storage.os.fsync", lambda handle: synced.append(str(Path(f"/proc/self/fd/{handle}").readlink()))
    )
    name = storage.save("a/b.txt", ContentFile(b"ink"))
    assert synced == [storage.path(name), storage.path("a")]


def test_half_a_file_is_not_left(storage):
    class Full(ContentFile):
        def chunks(self, chunk_size=None):
            yield b"half"
            raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        storage.save("a/b.txt", Full(b""))
    assert not storage.exists("a/b.txt")


def test_a_lost_folder_is_refused(storage, tmp_path):
    (tmp_path / "media").rmdir()
    with pytest.raises(FileNotFoundError):
        storage.save("a/b.txt", ContentFile(b"ink"))
    assert not (tmp_path / "media").exists()
