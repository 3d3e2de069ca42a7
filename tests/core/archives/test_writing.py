"""How an archive is written."""

from __future__ import annotations

import hashlib
import json
from base64 import b64decode
from zipfile import ZipFile

import pytest

from core.archives import Part, write_archive
from core.exceptions import ArchiveError
from tests.core.archives.makers import AT, KEY, make_archive


def test_the_manifest_names_every_file_with_its_hash_and_is_signed(tmp_path):
    path = make_archive(tmp_path / "a.zip", district="Cedar Fork")
    with ZipFile(path) as archive:
        signed = archive.read("manifest.json")
        manifest = json.loads(signed)
        assert archive.namelist()[-2:] == ["manifest.json", "manifest.sig"]
        for one in manifest["files"]:
            data = archive.read(one["name"])
            assert (one["bytes"], one["sha256"]) == (len(data), hashlib.sha256(data).hexdigest())
        KEY.public_key().verify(b64decode(archive.read("manifest.sig")), signed)
    assert (manifest["district"], manifest["made_at"]) == ("Cedar Fork", "2026-07-04T12:00:00+00:00")
    assert path.stat().st_mode & 0o777 == 0o600


def test_the_same_is_written_the_same(tmp_path):
    first, second = (make_archive(tmp_path / name).read_bytes() for name in ("a.zip", "b.zip"))
    assert first == second


def test_half_an_archive_is_deleted(tmp_path):
    def broken():
        yield b"some"
        raise ValueError("no more")

    with pytest.raises(ValueError, match="no more"):
        write_archive(tmp_path / "a.zip", [Part("x", broken())], about={}, key=KEY, at=AT)
    assert list(tmp_path.iterdir()) == []
    (tmp_path / "a.zip.part").touch()
    with pytest.raises(ArchiveError, match="is there already"):
        write_archive(tmp_path / "a.zip", [], about={}, key=KEY, at=AT)
    with pytest.raises(ArchiveError, match="was not made"):
        write_archive(tmp_path / "no" / "a.zip", [], about={}, key=KEY, at=AT)
