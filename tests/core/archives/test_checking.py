"""What is found when somebody changed an archive. The signature's vectors are in test_keys; the cases are ours, no source."""

from __future__ import annotations

import json
import warnings
from base64 import b64encode
from zipfile import ZipFile

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from core.archives import check_archive, public_text
from core.exceptions import ArchiveError
from tests.core.archives.makers import KEY, lines_and_chain, make_archive, rewrite

PRINTED = public_text(KEY.public_key())
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))


@pytest.fixture
def path(tmp_path):
    return make_archive(tmp_path / "year.zip")


def differences(path, pinned=PRINTED):
    return list(check_archive(path, pinned=pinned).differences)


def test_nothing_is_found_in_what_nobody_changed(path):
    checked = check_archive(path)
    assert checked.differences == ()
    assert (checked.public_key, checked.manifest["chain"]["count"]) == (PRINTED, 3)
    assert differences(path) == []
    rewrite(path, list)  # packed again, the same files
    assert differences(path) == []


def swap(files):
    files["register.csv"], files["README.txt"] = files["README.txt"], files["register.csv"]


def sign_as_other(files):
    manifest = json.loads(files["manifest.json"])
    manifest["public_key"] = public_text(OTHER.public_key())
    files["manifest.json"] = json.dumps(manifest).encode()
    files["manifest.sig"] = b64encode(OTHER.sign(files["manifest.json"]))


@pytest.mark.parametrize(
    ("change", "found"),
    [
        (lambda files: files.update({"register.csv": b"number,kind\n1,tuba\n"}), ["register.csv: is not as it was"]),
        (lambda files: files.update({"events.jsonl": files["events.jsonl"][:-2]}), ["events.jsonl: is not as it was"]),
        (lambda files: files.update({"extra.csv": b""}), ["extra.csv: is not in the manifest"]),
        (lambda files: files.pop("register.csv"), ["register.csv: is missing"]),
        (swap, ["README.txt: is not as it was", "register.csv: is not as it was"]),
        (
            lambda files: files.update({"manifest.json": files["manifest.json"] + b" "}),
            ["manifest.json: the signature"],
        ),
        (lambda files: files.update({"manifest.sig": b"AAAA"}), ["manifest.json: the signature"]),
        (lambda files: files.update({"manifest.sig": b"\xff"}), ["manifest.json: the signature"]),
        (sign_as_other, ["manifest.json: it was signed with another key", "manifest.json: the signature"]),
    ],
    ids=["changed", "cut", "added", "removed", "swapped", "manifest", "signature", "no base64", "signed again"],
)
def test_a_change_is_found_and_its_file_named(path, change, found):
    rewrite(path, change)
    told = differences(path)
    assert len(told) == len(found)
    assert all(one.startswith(words) for one, words in zip(told, found, strict=True))


def test_signed_again_by_somebody_else_is_found_by_the_key_that_was_printed_alone(path):
    rewrite(path, sign_as_other)
    assert check_archive(path).differences == ()
    assert differences(path)


def test_a_file_that_is_there_twice_is_found(path):
    with warnings.catch_warnings(), ZipFile(path, "a") as archive:
        warnings.simplefilter("ignore")
        archive.writestr("register.csv", b"number,kind\n1,trumpet\n")
    assert differences(path) == ["register.csv: is in the archive 2 times"]


def test_a_damaged_file_is_named(path):
    data = bytearray(path.read_bytes())
    with ZipFile(path) as archive:
        entry = archive.getinfo("register.csv")
    data[entry.header_offset + 30 + len(entry.filename) + 25] ^= 0xFF
    path.write_bytes(data)
    assert [one.partition(":")[0] for one in differences(path)] == ["register.csv"]


def entries(change):
    lines, _chain = lines_and_chain()
    change(lines)
    return lines


@pytest.mark.parametrize(
    "lines",
    [
        entries(lambda lines: lines.pop(1)),
        entries(lambda lines: lines.reverse()),
        entries(lambda lines: lines.__setitem__(1, lines[1].replace(b"moved", b"taken"))),
        entries(lambda lines: lines.__setitem__(0, b"[]\n")),
        entries(lambda lines: lines.__setitem__(0, b"{\n")),
        entries(lambda lines: lines.pop()),
        entries(list.clear),
    ],
    ids=["one out", "turned", "changed", "a list", "no JSON", "last out", "none"],
)
def test_entries_that_do_not_follow_each_other_are_found_even_where_they_were_signed(tmp_path, lines):
    path = make_archive(tmp_path / "year.zip", lines=lines)
    assert [one.partition(":")[0] for one in differences(path)] == ["events.jsonl"]


def changed(change):
    def rewritten(files):
        manifest = json.loads(files["manifest.json"])
        change(manifest)
        files["manifest.json"] = json.dumps(manifest).encode()

    return rewritten


@pytest.mark.parametrize(
    "change",
    [
        lambda files: files.pop("manifest.json"),
        lambda files: files.pop("manifest.sig"),
        lambda files: files.update({"manifest.json": b"{}"}),
        lambda files: files.update({"manifest.json": b"[" * 9000}),
        lambda files: files.update({"manifest.json": files["manifest.json"].replace(b"archive/1", b"archive/9")}),
        lambda files: files.update({"manifest.json": b"{"}),
        changed(lambda manifest: manifest["chain"].update(first="1")),
        changed(lambda manifest: manifest["chain"].update(previous_hash=None)),
        changed(lambda manifest: manifest["files"][0].update(name=["README.txt"])),
    ],
    ids=[
        "no manifest",
        "no signature",
        "empty",
        "nested",
        "another format",
        "no JSON",
        "no number",
        "no hash",
        "no name",
    ],
)
def test_what_has_no_manifest_cannot_be_read(path, change):
    rewrite(path, change)
    with pytest.raises(ArchiveError):
        check_archive(path)


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04", b"no archive"], ids=["empty", "cut", "text"])
def test_what_is_no_archive_cannot_be_read(tmp_path, data):
    path = tmp_path / "year.zip"
    with pytest.raises(ArchiveError, match="is not there"):
        check_archive(path)
    path.write_bytes(data)
    with pytest.raises(ArchiveError, match="no archive"):
        check_archive(path)
    with pytest.raises(ArchiveError, match="cannot be read"):
        check_archive(tmp_path)
