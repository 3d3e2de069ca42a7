"""The key that signs archives: a file of this account alone, outside the database. Its public half is 44 letters."""

from __future__ import annotations

import os
from base64 import b64decode, b64encode
from binascii import Error
from pathlib import Path

from cryptography.exceptions import UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)
from django.utils.translation import gettext

from core.exceptions import ArchiveError

FOR_OTHERS = 0o077  # what nobody else may do with the file
PUBLIC_BYTES = 32
LONGEST_FILE = 4096


def make_key(path: Path) -> str:
    """Make a key in a file that is not there yet, readable by this account alone; return its public half."""
    key = Ed25519PrivateKey.generate()
    data = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    try:
        with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:  # noqa: PTH123  # its mode
            out.write(data)
    except FileExistsError:
        raise ArchiveError(
            f"{path} is there already. Earlier archives are checked by its public key: keep it."
        ) from None
    except OSError as error:
        raise ArchiveError(f"{path} cannot be written: {error.strerror or error}.") from None
    return public_text(key.public_key())


def read_key(path: Path) -> Ed25519PrivateKey:
    """Return the key in a file; ArchiveError where there is none, or others may read it."""
    try:
        if path.stat().st_mode & FOR_OTHERS:
            raise ArchiveError(f"{path} may be read by others. Set its mode to 600.")
        key = load_pem_private_key(path.read_bytes(), password=None)
    except FileNotFoundError:
        raise ArchiveError(
            gettext("There is no key to sign archives with. Make one with manage.py make_archive_key.")
        ) from None
    except (OSError, ValueError, TypeError, UnsupportedAlgorithm):
        raise ArchiveError(f"{path} holds no key that can be read.") from None
    if not isinstance(key, Ed25519PrivateKey):
        raise ArchiveError(f"{path} holds another sort of key than Ed25519.")
    return key


def public_text(key: Ed25519PublicKey) -> str:
    """Return a public key as it is printed: 32 bytes in base64."""
    return b64encode(key.public_bytes(Encoding.Raw, PublicFormat.Raw)).decode()


def read_public(text: str) -> Ed25519PublicKey:
    """Return the public key that was printed; ArchiveError if it is none."""
    try:
        raw = b64decode("".join(text.split()), validate=True)
    except (Error, ValueError):
        raw = b""
    if len(raw) != PUBLIC_BYTES:
        raise ArchiveError("A public key is 44 letters, digits and signs, as the page of archives prints it.")
    return Ed25519PublicKey.from_public_bytes(raw)


def public_from(given: str) -> str:
    """Return a public key that is given as it was printed, or as the name of a file that holds it."""
    path = Path(given)
    if len(given) < LONGEST_FILE and path.is_file():
        try:
            given = path.read_text("utf-8")[:LONGEST_FILE]
        except (OSError, UnicodeDecodeError):
            raise ArchiveError(f"{path} cannot be read.") from None
    return public_text(read_public(given))
