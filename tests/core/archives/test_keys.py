"""Keys of archives. Vectors: RFC 8032, section 7.1, tests 1 to 3."""

from __future__ import annotations

from base64 import b64encode

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from core.archives.keys import make_key, public_from, public_text, read_key, read_public
from core.exceptions import ArchiveError

VECTORS = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
    ),
]


@pytest.mark.parametrize(("secret", "public", "message", "signature"), VECTORS)
def test_a_printed_key_checks_the_published_signatures(secret, public, message, signature):
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    printed = public_text(key.public_key())
    assert printed == b64encode(bytes.fromhex(public)).decode()
    assert key.sign(bytes.fromhex(message)).hex() == signature
    read_public(printed).verify(bytes.fromhex(signature), bytes.fromhex(message))
    with pytest.raises(InvalidSignature):
        read_public(printed).verify(bytes.fromhex(signature), bytes.fromhex(message) + b"x")


def test_a_key_is_made_once_and_for_this_account_alone(tmp_path):
    path = tmp_path / "archive.key"
    printed = make_key(path)
    assert path.stat().st_mode & 0o777 == 0o600
    assert public_text(read_key(path).public_key()) == printed
    with pytest.raises(ArchiveError, match="is there already"):
        make_key(path)
    with pytest.raises(ArchiveError, match="cannot be written"):
        make_key(tmp_path / "no" / "archive.key")


def test_a_key_that_others_may_read_is_not_used(tmp_path):
    path = tmp_path / "archive.key"
    make_key(path)
    path.chmod(0o640)
    with pytest.raises(ArchiveError, match="Set its mode to 600"):
        read_key(path)


def test_what_is_no_key_is_refused(tmp_path):
    path = tmp_path / "archive.key"
    with pytest.raises(ArchiveError, match="make_archive_key"):
        read_key(path)
    other = X25519PrivateKey.generate().private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    for data, words in ((b"no key", "holds no key"), (other, "another sort")):
        path.write_bytes(data)
        path.chmod(0o600)
        with pytest.raises(ArchiveError, match=words):
            read_key(path)


@pytest.mark.parametrize("text", ["", "abc", "é" * 44, "A" * 43, "A" * 64])
def test_what_is_no_public_key_is_refused(text):
    with pytest.raises(ArchiveError, match="44 letters"):
        read_public(text)


def test_a_public_key_is_given_as_printed_or_in_a_file(tmp_path):
    printed = b64encode(bytes.fromhex(VECTORS[0][1])).decode()
    path = tmp_path / "key.txt"
    path.write_text(f"{printed}\n", "utf-8")
    assert public_from(printed) == public_from(f" {printed[:20]} {printed[20:]}") == public_from(str(path)) == printed
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(ArchiveError, match="cannot be read"):
        public_from(str(path))
