"""How an archive is written: each file while it is made, then the manifest of all, then its signature."""

from __future__ import annotations

import hashlib
import json
import os
from base64 import b64encode
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from core.archives.keys import public_text
from core.exceptions import ArchiveError

FORMAT = "hornbook-archive/1"
MANIFEST, SIGNATURE = "manifest.json", "manifest.sig"


@dataclass(frozen=True, slots=True)
class Part:
    """A file of an archive: its name, and its bytes as they are made."""

    name: str
    chunks: Iterable[bytes]


def write_archive(
    path: Path, parts: Iterable[Part], *, about: Mapping[str, Any], key: Ed25519PrivateKey, at: datetime
) -> tuple[dict[str, Any], str]:
    """Write the archive for this account alone; half a file is deleted. Return its manifest and its SHA-256.

    ``about`` goes into the manifest, so that the signature covers it.
    """
    manifest = {
        "format": FORMAT,
        "made_at": at.isoformat(timespec="seconds"),
        "public_key": public_text(key.public_key()),
        **about,
    }
    part = path.with_name(f"{path.name}.part")
    try:
        with open(os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600), "w+b") as out:  # noqa: PTH123  # its mode
            with ZipFile(out, "w", ZIP_DEFLATED) as archive:
                manifest["files"] = [_add(archive, one, at=at) for one in parts]
                signed = json.dumps(manifest, indent=1, sort_keys=True).encode()
                _add(archive, Part(MANIFEST, [signed]), at=at)
                _add(archive, Part(SIGNATURE, [b64encode(key.sign(signed))]), at=at)
            out.flush()
            os.fsync(out.fileno())
            out.seek(0)
            digest = hashlib.file_digest(out, "sha256").hexdigest()
        part.replace(path)
    except FileExistsError:
        raise ArchiveError(f"{part} is there already: another archive is being made, or one was stopped.") from None
    except OSError as error:
        part.unlink(missing_ok=True)
        raise ArchiveError(f"The archive was not made: {error.strerror or error}.") from None
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return manifest, digest


def _add(archive: ZipFile, part: Part, *, at: datetime) -> dict[str, Any]:
    """Write a file, and return what the manifest says of it."""
    entry = ZipInfo(part.name, at.timetuple()[:6])
    entry.compress_type, entry.external_attr = ZIP_DEFLATED, 0o600 << 16
    digest, size = hashlib.sha256(), 0
    with archive.open(entry, "w", force_zip64=True) as out:
        for chunk in part.chunks:
            out.write(chunk)
            digest.update(chunk)
            size += len(chunk)
    return {"name": part.name, "bytes": size, "sha256": digest.hexdigest()}
