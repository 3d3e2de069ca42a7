"""The archive of a year: what is in it, what is not, and that it checks. No source; the vectors are RFC 8032's, in tests/core."""

from __future__ import annotations

import csv
import io
import json
from datetime import timedelta
from zipfile import ZipFile

import pytest
from django.conf import settings

from core.archives import check_archive, make_key
from core.exceptions import ArchiveError
from core.models import Event
from desk.archives import archive_year
from inventory.models import District
from inventory.services.registering import change_instrument
from tests.core.archives.makers import rewrite
from tests.factories import NOW, TODAY, make_district, make_instrument, make_student
from tests.loans.makers import make_agreement, make_loan

pytestmark = pytest.mark.django_db
FIRST, LAST = TODAY.replace(month=7, day=1), TODAY.replace(year=TODAY.year + 1, month=6, day=30)
AFTER = NOW + timedelta(days=400)


@pytest.fixture
def key(tmp_path, settings):
    settings.ARCHIVES_DIR, settings.ARCHIVE_KEY_FILE = tmp_path / "archives", tmp_path / "archive.key"
    return make_key(settings.ARCHIVE_KEY_FILE)


def archived(**given):
    details = archive_year(**{"first": FIRST, "last": LAST, "actor": None, "at": AFTER} | given)
    return settings.ARCHIVES_DIR / details["file"], details


def rows_of(path, name):
    with ZipFile(path) as archive:
        return list(csv.DictReader(io.StringIO(archive.read(name).decode("utf-8-sig"))))


@pytest.fixture
def horn(school, director):
    """Corrected in the year and again after it, lent to a student whose name nobody outside needs."""
    horn = make_instrument(school=school, serial="OLD-1", at=NOW)
    student = make_student(school=school, name="Marigold Studentname")
    loan = make_loan(instrument=make_instrument(school=school, at=NOW), student=student, limits_reason="-")
    make_agreement(loan)
    change_instrument(instrument=horn, actor=director, at=NOW + timedelta(days=1), serial="NEW-2")
    change_instrument(
        instrument=horn, actor=director, at=NOW + timedelta(days=300), serial="LATE-3", maker="Late Works"
    )
    return horn


def test_a_year_is_archived_as_it_was_known_and_checks(key, horn):
    District.objects.update(name="Bell & Reed's")
    path, details = archived()
    checked = check_archive(path, pinned=key)
    assert checked.differences == ()
    with ZipFile(path) as archive:
        entries = [json.loads(line) for line in archive.read("events.jsonl").splitlines()]
        everything = b"".join(archive.read(name) for name in archive.namelist())
    in_year = list(Event.objects.filter(at__date__lte=LAST).order_by("number"))
    assert [(one["number"], one["hash"]) for one in entries] == [(one.number, one.hash) for one in in_year]
    assert (details["events"], details["head"]) == (len(in_year), in_year[-1].hash)
    row = next(row for row in rows_of(path, "register.csv") if row["Asset number"] == horn.asset_number)
    assert (row["Serial"], row["Maker"]) == ("NEW-2", "Plain Brass Works")
    for words in (b"Marigold", b"Studentname", b"LATE-3"):
        assert words not in everything
    assert key.encode() in everything
    with ZipFile(path) as archive:
        assert archive.read("README.txt").startswith(b"Archive of Bell & Reed's, July 1, 2026 to June 30, 2027\n")


def test_loans_and_papers_are_named_by_their_numbers_alone(key, horn):
    path, _said = archived()
    (loan,) = rows_of(path, "loans.csv")
    assert (loan["Returned on"], loan["Agreement"]) == ("", "Signed on screen")
    assert loan["Student record"].isdecimal()
    hashes = {row["File"]: row["SHA-256"] for row in rows_of(path, "papers.csv")}
    assert {"student signature", "guardian signature"} <= hashes.keys()
    assert all(len(digest) == 64 for digest in hashes.values())


def test_the_log_holds_its_hash_and_a_change_to_it_is_found(key, horn, director):
    path, details = archived(actor=director, task="t1")
    event = Event.objects.get(act="archive_made")
    assert (event.actor, event.after) == (director, details)
    rewrite(path, lambda files: files.update({"register.csv": files["register.csv"].replace(b"NEW-2", b"NEW-9")}))
    assert check_archive(path, pinned=key).differences[0].startswith("register.csv: ")


def test_a_year_in_which_nothing_happened_has_no_entries(key, horn):
    path, details = archived(first=FIRST.replace(year=2020), last=LAST.replace(year=2021))
    assert details["events"] == 0
    assert check_archive(path, pinned=key).differences == ()


@pytest.mark.parametrize(
    ("given", "words"),
    [({"at": NOW}, "not over yet"), ({"path": __file__}, "is there already")],
    ids=["running", "taken"],
)
def test_what_cannot_be_archived_is_refused(key, school, tmp_path, given, words):
    if "path" in given:
        given = {"path": tmp_path / "taken.zip"}
        given["path"].touch()
    with pytest.raises(ArchiveError, match=words):
        archived(**given)
    assert not Event.objects.filter(act="archive_made").exists()


def test_without_a_key_or_a_district_nothing_is_archived(tmp_path, settings, db):
    settings.ARCHIVE_KEY_FILE = tmp_path / "archive.key"
    with pytest.raises(ArchiveError, match="no name yet"):
        archived()
    make_district()
    with pytest.raises(ArchiveError, match="make_archive_key"):
        archived()
