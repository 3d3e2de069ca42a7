"""How a backup is encrypted and decrypted, as a stream: by a public key (age), by a passphrase, or not at all."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, cast

import pyrage

from core.exceptions import BackupError

# A passphrase encrypts a key made for the one backup, and that key the backup: only keys can be used on a stream.
AGE, BY_PASSPHRASE = b"age-encryption.org/v1\n", b"hornbook-backup/passphrase\n"
LONGEST_HEAD = 10_000
BROKEN = "The backup is cut off or damaged."
WRONG_KEY = "The key or passphrase does not open this backup."
SHORTEST_PASSPHRASE = 12


def secret_of(path: Path) -> str:
    """Return the first line of the file that is not a comment; it never appears in a message."""
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError):
        raise BackupError(f"{path} cannot be read.") from None
    line = next((one.strip() for one in lines if one.strip() and not one.startswith("#")), "")
    if not line:
        raise BackupError(f"{path} is empty.")
    return line


@dataclass(frozen=True, slots=True)
class Lock:
    """How a backup is encrypted: to a public key, by a passphrase, or, with neither, not at all."""

    recipient: Any = None
    passphrase: str = ""

    @classmethod
    def from_files(cls, *, recipient: Path | None = None, passphrase: Path | None = None) -> Lock:
        if recipient is not None:
            try:
                return cls(recipient=pyrage.x25519.Recipient.from_str(secret_of(recipient)))
            except pyrage.RecipientError:
                raise BackupError(f"{recipient} does not hold a public key, which begins with age1.") from None
        if passphrase is None:
            return cls()
        words = secret_of(passphrase)
        if len(words) < SHORTEST_PASSPHRASE:
            raise BackupError(f"The passphrase is shorter than {SHORTEST_PASSPHRASE} characters.")
        return cls(passphrase=words)

    @property
    def is_closed(self) -> bool:
        return self.recipient is not None or bool(self.passphrase)

    @contextmanager
    def closing(self, out: IO[bytes]) -> Iterator[IO[bytes]]:
        """Give a file to write plain data to; it reaches ``out`` encrypted."""
        recipient = self.recipient
        if self.passphrase:
            key = pyrage.x25519.Identity.generate()
            head = pyrage.passphrase.encrypt(str(key).encode(), self.passphrase)
            out.write(BY_PASSPHRASE + len(head).to_bytes(4, "big") + head)
            recipient = key.to_public()
        if recipient is None:
            yield out
            return
        reader, writer = _pipe()

        def encrypt() -> None:
            with reader:
                pyrage.encrypt_io(reader, out, [recipient])

        pump = _Pump(encrypt)
        try:
            with writer:
                yield writer
        finally:
            pump.join()
            if pump.error is not None:  # why the pipe broke
                raise BackupError(f"The backup could not be written: {pump.error}.") from None


@dataclass(frozen=True, slots=True)
class Opener:
    """What opens an encrypted backup: the private key, or the passphrase."""

    identity: Any = None
    passphrase: str = ""

    @classmethod
    def from_files(cls, *, key: Path | None = None, passphrase: Path | None = None) -> Opener:
        if key is None:
            return cls(passphrase=secret_of(passphrase) if passphrase else "")
        try:
            return cls(identity=pyrage.x25519.Identity.from_str(secret_of(key)))
        except pyrage.IdentityError:
            raise BackupError(f"{key} does not hold a key, which begins with AGE-SECRET-KEY-.") from None

    @contextmanager
    def opening(self, source: IO[bytes]) -> Iterator[IO[bytes]]:
        """Give a file to read plain data from."""
        begins = source.read(len(BY_PASSPHRASE))
        if begins == BY_PASSPHRASE:
            identity = self._key_in(source)
        elif begins.startswith(AGE):
            source.seek(0)
            identity = self.identity
            if identity is None:
                raise BackupError("The backup is encrypted to a key. Name the file with the key: --key.")
        else:
            source.seek(0)
            yield source
            return
        reader, writer = _pipe()

        def decrypt() -> None:
            with writer:
                pyrage.decrypt_io(source, writer, [identity])

        pump = _Pump(decrypt)
        try:
            with reader:
                yield reader
        except BackupError:
            pump.join()
            if isinstance(pump.error, pyrage.DecryptError):  # nothing came, or only its beginning
                raise BackupError(WRONG_KEY) from None
            raise
        pump.join()
        if pump.error is not None:
            raise BackupError(BROKEN)

    def _key_in(self, source: IO[bytes]) -> Any:
        if not self.passphrase:
            raise BackupError("The backup is encrypted with a passphrase. Name the file with it: --passphrase.")
        length = int.from_bytes(source.read(4), "big")
        if length > LONGEST_HEAD:
            raise BackupError(BROKEN)
        try:
            opened = pyrage.passphrase.decrypt(source.read(length), self.passphrase)
            return pyrage.x25519.Identity.from_str(opened.decode())
        except pyrage.DecryptError:
            raise BackupError(WRONG_KEY) from None
        except (pyrage.IdentityError, UnicodeDecodeError):
            raise BackupError(BROKEN) from None


def _pipe() -> tuple[IO[bytes], IO[bytes]]:
    reader, writer = os.pipe()
    return cast("IO[bytes]", os.fdopen(reader, "rb")), cast("IO[bytes]", os.fdopen(writer, "wb"))


class _Pump(threading.Thread):
    """Does its work beside the one who started it, and keeps what went wrong."""

    def __init__(self, work: Callable[[], None]) -> None:
        super().__init__(daemon=True)
        self.work = work
        self.error: Exception | None = None
        self.start()

    def run(self) -> None:
        try:
            self.work()
        except Exception as error:  # noqa: BLE001  # for the one who started it
            self.error = error
