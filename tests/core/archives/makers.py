"""A small archive with three entries of a log, and what somebody might do to it."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from zipfile import ZipFile

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from core.archives import Part, write_archive
from core.events import NO_HASH, link_hash

AT = datetime(2026, 7, 4, 12, tzinfo=UTC)
KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def lines_and_chain(*, first: int = 5, count: int = 3) -> tuple[list[bytes], dict]:
    previous, lines = NO_HASH, []
    for number in range(first, first + count):
        content = {"number": number, "act": "moved"}
        digest = link_hash(previous, content)
        lines.append(json.dumps(content | {"previous_hash": previous, "hash": digest}).encode() + b"\n")
        previous = digest
    return lines, {"first": first, "count": count, "previous_hash": NO_HASH, "hash": previous}


def make_archive(path: Path, *, key: Ed25519PrivateKey = KEY, lines: list[bytes] | None = None, **about) -> Path:
    told, chain = lines_and_chain()
    parts = [
        Part("README.txt", [b"About this archive.\n"]),
        Part("events.jsonl", told if lines is None else lines),
        Part("register.csv", [b"number,kind\n", b"1,trumpet\n"]),
    ]
    write_archive(path, parts, about={"chain": chain} | about, key=key, at=AT)
    return path


def rewrite(path: Path, change: Callable[[dict[str, bytes]], object]) -> None:
    """Write the archive again with its files as ``change`` leaves them."""
    with ZipFile(path) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    change(files)
    with ZipFile(path, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
