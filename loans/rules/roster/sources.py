"""Where a roster's files lie: in a folder, or in a zip file that is trusted in nothing.

Bytes are counted as they are unpacked, whatever the zip file says of their number.
"""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from abc import ABC, abstractmethod
from collections.abc import Iterator
from contextlib import contextmanager
from lzma import LZMAError
from pathlib import Path, PurePosixPath
from typing import IO, Any, Final

from core.translation import gettext as _
from loans.rules.roster.problems import Problem, UnreadableError

LARGEST_FILE: Final = 256 * 2**20  # bytes unpacked; the enrollments of 50,000 users are about 30 million
LARGEST_DIRECTORY: Final = 2**20  # bytes of a zip file's list of contents
BUFFER: Final = 2**17
_END: Final = b"PK\x05\x06"
_END_SIZE: Final = 22
_LONGEST_COMMENT: Final = 2**16
_DAMAGE = (
    OSError, EOFError, zipfile.BadZipFile, zlib.error, LZMAError, struct.error, NotImplementedError, RuntimeError,
    ValueError, LookupError,
)  # fmt: skip


class Source(ABC):
    """The files of a roster by name, and what is wrong with how they are packed."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []
        self.names: tuple[str, ...] = ()

    @abstractmethod
    def _stream(self, name: str) -> IO[bytes]: ...

    @contextmanager
    def open(self, name: str) -> Iterator[IO[bytes]]:
        """Open a file for reading; UnreadableError, also while it is read, where it is damaged or too large."""
        try:
            stream = self._stream(name)
        except _DAMAGE as error:
            raise UnreadableError(_("The file cannot be opened; it is damaged or has a password.")) from error
        with stream, io.BufferedReader(_Measured(stream), BUFFER) as reader:
            yield reader

    @abstractmethod
    def close(self) -> None:
        """Let go of the files."""


class _Measured(io.RawIOBase):
    """Passes bytes on until there are more than a roster needs."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream, self._count = stream, 0

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        try:
            piece = self._stream.read(len(buffer))
        except _DAMAGE as error:
            raise UnreadableError(_("The file is damaged and cannot be read to its end.")) from error
        self._count += len(piece)
        if self._count > LARGEST_FILE:
            raise UnreadableError(
                _("The file is larger than %(megabytes)d MB; reading stopped there.", megabytes=LARGEST_FILE // 2**20)
            )
        buffer[: len(piece)] = piece
        return len(piece)


class FolderSource(Source):
    def __init__(self, path: Path) -> None:
        super().__init__()
        self._path = path
        try:
            self.names = tuple(sorted(one.name for one in path.iterdir() if one.is_file() and _is_csv(one.name)))
        except OSError as error:
            raise UnreadableError(_("The folder cannot be read.")) from error

    def _stream(self, name: str) -> IO[bytes]:
        return (self._path / name).open("rb")

    def close(self) -> None:
        """Keep nothing open: there is nothing to let go of."""


class ZipSource(Source):
    """A zip file. Files in sub-folders are told of, and read all the same, so that their own problems are found."""

    def __init__(self, file: IO[bytes]) -> None:
        super().__init__()
        self._file = file
        try:
            _refuse_large_directory(file)
            self._zip = zipfile.ZipFile(file)
        except _DAMAGE as error:
            file.close()
            raise UnreadableError(_("This is not a zip file, or it is damaged.")) from error
        except UnreadableError:
            file.close()
            raise
        self._entries: dict[str, zipfile.ZipInfo] = {}
        for entry in self._zip.infolist():
            if not entry.filename.endswith("/"):
                self._take(entry)
        self.names = tuple(sorted(self._entries))

    def _take(self, entry: zipfile.ZipInfo) -> None:
        path = PurePosixPath(entry.filename.replace("\\", "/"))
        if len(path.parts) > 1:
            reason = _("The file is in a subfolder of the zip file; all files must be at the top level.")
            self.problems.append(Problem(str(path), None, "", reason))
        if not _is_csv(path.name):
            if len(path.parts) == 1:
                self.problems.append(Problem(str(path), None, "", _("The standard has no such file.")))
        elif path.name in self._entries:
            self.problems.append(Problem(path.name, None, "", _("The zip file holds this file more than once.")))
        else:
            self._entries[path.name] = entry

    def _stream(self, name: str) -> IO[bytes]:
        return self._zip.open(self._entries[name])

    def close(self) -> None:
        self._zip.close()
        self._file.close()


def source_at(path: Path) -> Source:
    """Return the folder or zip file. UnreadableError where it is neither, or cannot be read."""
    if path.is_dir():
        return FolderSource(path)
    if not path.exists():
        raise UnreadableError(_("There is no such file or folder."))
    try:
        return ZipSource(path.open("rb"))
    except OSError as error:
        raise UnreadableError(_("The file cannot be read.")) from error


def _is_csv(name: str) -> bool:
    return name.casefold().endswith(".csv") and not name.startswith(".")


def _refuse_large_directory(file: IO[bytes]) -> None:
    """Raise UnreadableError where the list of contents alone would fill memory, before anything parses it."""
    size = file.seek(0, io.SEEK_END)
    file.seek(max(0, size - _END_SIZE - _LONGEST_COMMENT))
    tail = file.read()
    file.seek(0)
    end = tail[-_END_SIZE:]
    if not (end.startswith(_END) and end.endswith(b"\0\0")):  # a comment stands behind it
        end = tail[tail.rfind(_END) :][:_END_SIZE] if _END in tail else b""
    if len(end) < _END_SIZE:
        raise UnreadableError(_("This is not a zip file, or it is damaged."))
    if struct.unpack("<I", end[12:16])[0] > LARGEST_DIRECTORY:
        raise UnreadableError(_("The zip file lists far more files than a roster has, so it was not opened."))
