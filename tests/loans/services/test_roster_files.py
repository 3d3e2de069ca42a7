"""A file that may name every child of a district lies nowhere longer than a day, under a name nobody guesses."""

from __future__ import annotations

import io
import os
from datetime import UTC, datetime, timedelta

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from core.sheets import write_xlsx
from loans.exceptions import RosterRefusedError
from loans.services.roster_files import forget_file, forget_files, holds_roster, is_kept, keep_file, open_file
from tests.rosters import files_of, school_rows, zip_of


def test_kept_read_and_deleted():
    name = keep_file(ContentFile(b"x", name="Riveras.zip"))
    assert "Rivera" not in name
    with open_file(name) as file:
        assert file.read() == b"x"
    forget_file(name)
    assert not is_kept(name)


def test_only_files_of_rosters_are_deleted():
    other = default_storage.save("photos/a.jpg", ContentFile(b"x"))
    forget_file(other)
    assert default_storage.exists(other)
    assert not is_kept(other)
    default_storage.delete(other)


def test_what_nobody_went_on_with_for_a_day_goes():
    old, new = (keep_file(ContentFile(b"x")) for _ in range(2))
    long_ago = datetime(2026, 1, 1, tzinfo=UTC).timestamp()
    os.utime(default_storage.path(old), (long_ago, long_ago))
    assert forget_files(at=timezone.now()) == 1
    assert (is_kept(old), is_kept(new)) == (False, True)
    assert forget_files(at=timezone.now() + timedelta(days=2)) >= 1
    assert not is_kept(new)


def test_a_roster_is_told_from_a_list():
    assert holds_roster(zip_of(files_of(school_rows())))
    for data in (b"Name,Grade\nAna,9\n", write_xlsx(title="x", header=["Name"], rows=[["Ana"]])):
        file = io.BytesIO(data)
        assert not holds_roster(file)
        assert file.read() == data
    with pytest.raises(RosterRefusedError, match="damaged"):
        holds_roster(io.BytesIO(b"PK\x03\x04" + b"x" * 50))
