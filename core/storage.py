"""The place of photos, signatures and papers: what is kept is on the disk, and a lost folder is not made again."""

from __future__ import annotations

import errno
import os
from pathlib import Path

from django.core.files.base import File
from django.core.files.storage import FileSystemStorage


class KeptFiles(FileSystemStorage):
    """Files survive a power failure once their row is saved, and none is left half written."""

    def _save(self, name: str, content: File[bytes]) -> str:
        if not Path(self.location).is_dir():  # a disk that is not mounted: files would go elsewhere, and vanish with it
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(self.location))
        place = Path(self.path(name))
        was_there = place.exists()
        try:
            saved: str = super()._save(name, content)  # type: ignore[misc]  # Django's own way to extend a storage
            to_disk(Path(self.path(saved)))
            to_disk(Path(self.path(saved)).parent)
        except OSError:
            if not was_there:
                place.unlink(missing_ok=True)
            raise
        return saved


def to_disk(path: Path) -> None:
    """Return when the file, or the folder's list of names, is on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
