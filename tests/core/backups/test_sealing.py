"""An encrypted stream opens to what went in, and neither end waits forever when the other fails."""

from __future__ import annotations

import io
import os

import pyrage
import pytest

from core.backups.sealing import Lock, Opener
from core.exceptions import BackupError

pytestmark = pytest.mark.pure
IDENTITY = pyrage.x25519.Identity.generate()
WAYS = {
    "plain": (Lock(), Opener()),
    "key": (Lock(recipient=IDENTITY.to_public()), Opener(identity=IDENTITY)),
    "passphrase": (Lock(passphrase="valve oil and patience"), Opener(passphrase="valve oil and patience")),
}


def closed(lock: Lock, data: bytes) -> bytes:
    out = io.BytesIO()
    with lock.closing(out) as plain:
        plain.write(data)
    return out.getvalue()


def opened(opener: Opener, data: bytes) -> bytes:
    with opener.opening(io.BytesIO(data)) as plain:
        return plain.read()


# A passphrase takes seconds to try, as it is meant to: it has the fewest cases.
SIZES = [("plain", 3_000_000), ("key", 0), ("key", 1), ("key", 70_000), ("key", 3_000_000), ("passphrase", 70_000)]
CUTS = [("key", 0.1), ("key", 0.5), ("key", 0.999), ("passphrase", 0.5)]


@pytest.mark.parametrize(("way", "size"), SIZES)
def test_what_went_in_comes_out(way, size):
    lock, opener = WAYS[way]
    data = os.urandom(size)
    assert opened(opener, closed(lock, data)) == data


@pytest.mark.parametrize(("way", "share"), CUTS)
def test_what_is_cut_off_or_changed_does_not_open(way, share):
    lock, opener = WAYS[way]
    whole = closed(lock, os.urandom(300_000))
    place = int(len(whole) * share)
    for damaged in (whole[:place], whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :]):
        with pytest.raises(BackupError):
            opened(opener, damaged)


class FullDisk(io.RawIOBase):
    def writable(self):
        return True

    def write(self, _data):
        raise OSError(28, "No space left on device")


def test_a_full_disk_ends_the_writing_with_its_reason():
    def fill() -> None:
        with WAYS["key"][0].closing(FullDisk()) as plain:
            for _ in range(100):
                plain.write(os.urandom(100_000))

    with pytest.raises(BackupError, match="No space left"):
        fill()


def test_a_failure_while_writing_is_the_one_that_is_told():
    def fail() -> None:
        with WAYS["key"][0].closing(io.BytesIO()) as plain:
            plain.write(b"a")
            raise KeyError

    with pytest.raises(KeyError):
        fail()


def test_a_reader_who_stops_early_is_not_waited_for():
    whole = closed(WAYS["key"][0], os.urandom(3_000_000))

    def stop() -> None:
        with WAYS["key"][1].opening(io.BytesIO(whole)) as plain:
            plain.read(10)
            raise KeyError

    with pytest.raises(KeyError):
        stop()
