"""Is an archive as it was signed? Each file against the manifest, the manifest against its signature, the chain of entries."""

from __future__ import annotations

import hashlib
import json
import zlib
from base64 import b64decode
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from zipfile import BadZipFile, ZipFile

from cryptography.exceptions import InvalidSignature

from core.archives.keys import read_public
from core.archives.writing import FORMAT, MANIFEST, SIGNATURE
from core.events import link_hash
from core.exceptions import ArchiveError

EVENTS = "events.jsonl"
LINKS = ("previous_hash", "hash")  # beside what the hash of an entry covers
LONGEST_MANIFEST = 1024 * 1024
LONGEST_LINE = 16 * 1024 * 1024
PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class Checked:
    """What an archive says of itself, and every difference, each beginning with the name of the file."""

    manifest: Mapping[str, Any]
    differences: tuple[str, ...]

    @property
    def public_key(self) -> str:
        return str(self.manifest["public_key"])


def check_archive(path: Path, *, pinned: str = "") -> Checked:
    """Check an archive, by the public key in it or by the one that is given. ArchiveError where it cannot be read."""
    try:
        with ZipFile(path) as archive:
            signed, signature = _read(archive, MANIFEST), _read(archive, SIGNATURE)
            manifest = _manifest(signed)
            found = [
                *_key_differs(manifest, signed, signature, pinned=pinned),
                *_names_differ(archive, manifest),
                *_files_differ(archive, manifest),
            ]
            if not any(one.startswith(EVENTS) for one in found):
                found += _chain_differs(archive, manifest)
    except FileNotFoundError:
        raise ArchiveError(f"{path} is not there.") from None
    except OSError as error:
        raise ArchiveError(f"{path} cannot be read: {error.strerror or error}.") from None
    except (BadZipFile, KeyError, NotImplementedError, RuntimeError, zlib.error, EOFError):
        raise ArchiveError(f"{path} is no archive, or is cut off or damaged.") from None
    return Checked(manifest, tuple(found))


def _read(archive: ZipFile, name: str) -> bytes:
    with archive.open(name) as file:
        return file.read(LONGEST_MANIFEST)


def _manifest(signed: bytes) -> dict[str, Any]:
    try:
        manifest = json.loads(signed)
        files, chain = manifest["files"], manifest["chain"]
        texts = [manifest["public_key"], *(chain[name] for name in LINKS)]
        texts += [one[name] for one in files for name in ("name", "sha256")]
        numbers = [chain["first"], chain["count"]]
        is_whole = (
            bool(files) and all(isinstance(one, str) for one in texts) and all(isinstance(one, int) for one in numbers)
        )
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        is_whole = False
    if not is_whole or manifest.get("format") != FORMAT:
        raise ArchiveError("Its manifest cannot be read.")
    return dict(manifest)


def _key_differs(manifest: Mapping[str, Any], signed: bytes, signature: bytes, *, pinned: str) -> Iterator[str]:
    key = pinned or manifest["public_key"]
    if key != manifest["public_key"]:
        yield f"{MANIFEST}: it was signed with another key, {manifest['public_key']}"
    try:
        read_public(key).verify(b64decode(signature, validate=True), signed)
    except (InvalidSignature, ValueError):
        yield f"{MANIFEST}: the signature in {SIGNATURE} is not that of the key {key}"


def _names_differ(archive: ZipFile, manifest: Mapping[str, Any]) -> Iterator[str]:
    there = Counter(archive.namelist())
    listed = [one["name"] for one in manifest["files"]]
    yield from (f"{name}: is in the archive {times} times" for name, times in there.items() if times > 1)
    yield from (f"{name}: is not in the manifest" for name in there if name not in {*listed, MANIFEST, SIGNATURE})
    yield from (f"{name}: is missing" for name in listed if name not in there)


def _files_differ(archive: ZipFile, manifest: Mapping[str, Any]) -> Iterator[str]:
    there = set(archive.namelist())
    for one in manifest["files"]:
        if one["name"] in there and _digest(archive, one["name"]) != one["sha256"]:
            yield f"{one['name']}: is not as it was when the archive was signed"


def _digest(archive: ZipFile, name: str) -> str:
    """Return the hash of a file, "" where it is damaged."""
    digest = hashlib.sha256()
    try:
        with archive.open(name) as file:
            while piece := file.read(PIECE):
                digest.update(piece)
    except (BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError):
        return ""
    return digest.hexdigest()


def _chain_differs(archive: ZipFile, manifest: Mapping[str, Any]) -> Iterator[str]:
    """Whether the entries follow each other, from what the manifest says came before to what it says they end with."""
    chain = manifest["chain"]
    if EVENTS not in archive.namelist():
        return
    number, previous, count = chain["first"] - 1, chain["previous_hash"], 0
    with archive.open(EVENTS) as file:
        for entry in _entries(file):
            number, count = number + 1, count + 1
            content = {name: value for name, value in entry.items() if name not in LINKS}
            follows = (entry.get("number"), entry.get("previous_hash")) == (number, previous)
            if not follows or link_hash(previous, content) != entry.get("hash"):
                yield f"{EVENTS}: entry {number} does not follow the one before it"
                return
            previous = entry["hash"]
    if (count, previous) != (chain["count"], chain["hash"]):
        yield f"{EVENTS}: it ends with another entry than the manifest says"


def _entries(file: IO[bytes]) -> Iterator[Mapping[str, Any]]:
    while line := file.readline(LONGEST_LINE):
        try:
            entry = json.loads(line)
        except (ValueError, RecursionError):
            entry = None
        yield entry if isinstance(entry, dict) else {}
