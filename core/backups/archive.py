"""The one file of a backup: a tar with the database, the files that its rows name, and last the manifest of all."""

from __future__ import annotations

import hashlib
import json
import os
import tarfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from datetime import datetime
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import IO, Any

from django.conf import settings
from django.core.files.storage import default_storage

from core.backups.database import Snapshot, still_named
from core.backups.sealing import BROKEN, Lock, Opener
from core.exceptions import BackupError
from core.progress import counted

FORMAT = 1
DATABASE, FILES, MANIFEST = "database", "files/", "manifest.json"
LONGEST_MANIFEST = 200 * 1024 * 1024
CHUNK = 1024 * 1024


@dataclass(slots=True)
class Manifest:
    """What a backup says it holds."""

    made_at: str
    version: str
    kind: str
    counts: dict[str, int]
    head: list[Any]  # number and hash of the newest event
    migrations: list[str]
    erasures: int  # how many lines the list of erasures had before the database was copied
    format: int = FORMAT
    hashes: dict[str, str] = field(default_factory=dict)  # SHA-256 of every other part, by its name in the tar
    gone: list[str] = field(default_factory=list)  # deleted while the backup was made; no row names them now
    missing: list[str] = field(default_factory=list)  # named by rows, and not there

    @property
    def moment(self) -> datetime:
        return datetime.fromisoformat(self.made_at)

    @property
    def holds(self) -> str:
        """How much is in it, in words."""
        return f"{sum(self.counts.values())} rows, {len(self.hashes) - 1} files"  # one of the parts is the database


def write_backup(path: Path, snapshot: Snapshot, *, lock: Lock, erasures: int, at: datetime) -> tuple[Manifest, str]:
    """Write the backup, readable by this account only; a name that is taken is refused, and half a file is deleted.

    Return its manifest and the hash of what went into the file, encrypted or not.
    """
    manifest = Manifest(
        made_at=at.isoformat(),
        version=settings.VERSION,
        kind=snapshot.kind,
        counts=snapshot.counts,
        head=list(snapshot.head),
        migrations=snapshot.migrations,
        erasures=erasures,
    )
    part = path.with_name(f"{path.name}.part")
    try:
        with (
            _new_file(part) as file,
            lock.closing(out := _Hashing(file)) as plain,  # type: ignore[arg-type]  # as much of a file as is written to
            tarfile.open(fileobj=plain, mode="w|", format=tarfile.PAX_FORMAT) as tar,
        ):
            _add_all(tar, snapshot, manifest)
        part.replace(path)
    except FileExistsError:
        raise BackupError(f"{part} is there already: by another backup, or one that was killed.") from None
    except OSError as error:
        part.unlink(missing_ok=True)
        raise BackupError(f"The backup was not made: {error.strerror or error}.") from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return manifest, out.sha256.hexdigest()


@contextmanager
def _new_file(path: Path) -> Iterator[IO[bytes]]:
    """Give a new file that only this account can read, and is on the disk at the end; a name that is taken is refused."""
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:  # noqa: PTH123  # its mode
        yield out
        out.flush()
        os.fsync(out.fileno())


def _add_all(tar: tarfile.TarFile, snapshot: Snapshot, manifest: Manifest) -> None:
    with snapshot.path.open("rb") as database:
        manifest.hashes[DATABASE] = _add(tar, DATABASE, database, snapshot.path.stat().st_size)
    for name in counted(snapshot.files, total=len(snapshot.files)):
        try:
            with default_storage.open(name, "rb") as stored:
                manifest.hashes[FILES + name] = _add(tar, FILES + name, stored, stored.size)
        except FileNotFoundError:
            (manifest.missing if still_named(name) else manifest.gone).append(name)
    text = json.dumps(asdict(manifest), indent=1).encode()
    _add(tar, MANIFEST, BytesIO(text), len(text))


def _add(tar: tarfile.TarFile, name: str, source: Any, size: int) -> str:
    entry = tarfile.TarInfo(name)
    entry.size, entry.mode = size, 0o600
    reading = _Hashing(source)
    tar.addfile(entry, reading)
    return reading.sha256.hexdigest()


class _Hashing:
    """A file that hashes what is read from it or written to it."""

    def __init__(self, file: Any) -> None:
        self.file, self.sha256 = file, hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        data: bytes = self.file.read(size)
        self.sha256.update(data)
        return data

    def write(self, data: bytes) -> int:
        self.sha256.update(data)
        written: int = self.file.write(data)
        return written

    def flush(self) -> None:
        self.file.flush()


@dataclass(frozen=True, slots=True)
class Unpacked:
    """A backup that was read whole and is as its manifest says."""

    manifest: Manifest
    database: Path
    files: Path


def check_written(path: Path, sha256: str) -> None:
    """Read the finished file again, byte by byte: it holds what was written, also where nobody here can open it."""
    try:
        with path.open("rb") as file:
            found = _hash(file)
    except OSError as error:
        raise BackupError(f"The backup could not be read again: {error.strerror or error}.") from None
    if found != sha256:
        raise BackupError(f"{path} does not hold what was written to it: the disk is not to be trusted.")


def check_backup(path: Path, *, opener: Opener) -> Manifest:
    """Read a backup whole and compare it with its manifest, and return that; nothing is written."""
    return _read(path, None, opener=opener)


def unpack(path: Path, folder: Path, *, opener: Opener) -> Unpacked:
    """Unpack the backup into a folder of its own and compare it with the manifest; BackupError on any difference."""
    manifest = _read(path, folder, opener=opener)
    return Unpacked(manifest=manifest, database=folder / DATABASE, files=folder / FILES)


def _read(path: Path, folder: Path | None, *, opener: Opener) -> Manifest:
    try:
        with path.open("rb") as source, opener.opening(source) as plain:
            hashes, manifest = _unpack_all(plain, folder)
    except FileNotFoundError as error:
        raise BackupError(f"There is no {error.filename}.") from None
    except OSError as error:
        raise BackupError(f"The backup could not be read: {error.strerror or error}.") from None
    _compare(hashes, manifest)
    return manifest


def _unpack_all(plain: IO[bytes], folder: Path | None) -> tuple[dict[str, str], Manifest]:
    hashes: dict[str, str] = {}
    manifest: Manifest | None = None
    if folder is not None:
        (folder / FILES).mkdir(mode=0o700)
    try:
        with tarfile.open(fileobj=plain, mode="r|") as tar:
            for entry in tar:
                source = tar.extractfile(entry) if entry.isreg() else None
                if source is None or manifest is not None:
                    raise BackupError(f"The backup holds {entry.name!r}, which does not belong in one.")
                if entry.name == MANIFEST:
                    manifest = read_manifest(source.read(LONGEST_MANIFEST))
                else:
                    name = _safe(entry.name)
                    hashes[name] = _keep(source, folder / name) if folder is not None else _hash(source)
        while plain.read(CHUNK):
            pass
    except (tarfile.TarError, EOFError):
        raise BackupError(BROKEN) from None
    if manifest is None:
        raise BackupError(BROKEN)
    return hashes, manifest


def _safe(name: str) -> str:
    """Return the name if it stays inside the folder and is one that a backup gives."""
    parts = PurePosixPath(name).parts
    is_ours = name == DATABASE or (name.startswith(FILES) and len(parts) > 1)
    if not is_ours or ".." in parts or "\\" in name or "\0" in name:
        raise BackupError(f"The backup holds {name!r}, which does not belong in one.")
    return name


def _keep(source: IO[bytes], place: Path) -> str:
    place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    with _new_file(place) as out:
        return _hash(source, out)


def _hash(source: IO[bytes], out: IO[bytes] | None = None) -> str:
    sha256 = hashlib.sha256()
    while chunk := source.read(CHUNK):
        sha256.update(chunk)
        if out is not None:
            out.write(chunk)
    return sha256.hexdigest()


def read_manifest(data: bytes) -> Manifest:
    try:
        found = json.loads(data)
        manifest = Manifest(**found)
        manifest.moment  # noqa: B018  # whether it is one
    except (ValueError, TypeError):
        raise BackupError("The manifest of the backup cannot be read.") from None
    if manifest.format != FORMAT:
        raise BackupError(f"The backup has format {manifest.format}, and this version reads {FORMAT}.")
    return manifest


def _compare(hashes: dict[str, str], manifest: Manifest) -> None:
    listed = manifest.hashes
    for name in sorted(listed.keys() | hashes.keys()):
        if name not in hashes:
            raise BackupError(f"The backup lacks {name}, which its manifest names.")
        if name not in listed:
            raise BackupError(f"The backup holds {name}, which its manifest does not name.")
        if listed[name] != hashes[name]:
            raise BackupError(f"In the backup, {name} is not as its manifest says.")
    if DATABASE not in hashes:
        raise BackupError("The backup holds no database.")


@contextmanager
def placed_files(files: Path, place: Path) -> Iterator[None]:
    """Move the unpacked files into the empty place; if the body fails, they are out of it again."""
    moved: list[Path] = []
    try:
        for child in sorted(files.iterdir()):
            child.rename(place / child.name)
            moved.append(place / child.name)
        yield
    except BaseException:
        for child in reversed(moved):
            with suppress(OSError):
                child.rename(files / child.name)
        raise
