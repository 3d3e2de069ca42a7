"""One moment of the database: what it says of itself, and what a damaged copy is refused for."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from django.core.files.base import ContentFile
from django.db import connection

from core.backups.database import check_sqlite, place_problem, run_program, still_named, take_snapshot
from core.exceptions import BackupError
from core.models import EventHead
from loans.models import Agreement, Loan
from tests.loans.makers import make_agreement


@pytest.mark.django_db(transaction=True)
def test_a_snapshot_tells_its_rows_its_head_and_its_files(tmp_path):
    agreement = make_agreement()
    snapshot = take_snapshot(tmp_path)
    head = EventHead.objects.get()
    assert snapshot.kind == connection.vendor
    assert snapshot.counts["loans_loan"] == Loan.objects.count() == 1
    assert snapshot.head == (head.last_number, head.last_hash)
    assert set(snapshot.files) == {agreement.student_signature.name, agreement.guardian_signature.name}
    assert any(name.startswith("loans.0001") for name in snapshot.migrations)


@pytest.mark.django_db
def test_a_file_is_named_as_long_as_a_row_names_it():
    agreement = make_agreement()
    agreement.scan.save("loan.pdf", ContentFile(b"paper"))
    name = agreement.scan.name
    assert still_named(name)
    Agreement.objects.update(scan="")
    assert not still_named(name)


@pytest.mark.django_db
def test_a_database_in_use_is_no_place_to_restore_into():
    assert "already" in place_problem()


@pytest.mark.parametrize("folder", ["plain", "50% #2?"])
def test_a_damaged_copy_is_refused_whatever_its_folder_is_named(tmp_path, folder):
    copy = tmp_path / folder / "copy"
    copy.parent.mkdir()
    copy.write_bytes(b"SQLite format 3\0" + b"nonsense" * 1000)
    with pytest.raises(BackupError, match="damaged"):
        check_sqlite(copy)


def test_a_copy_whose_rows_lead_nowhere_is_refused(tmp_path):
    copy = tmp_path / "copy"
    with closing(sqlite3.connect(copy)) as made:
        made.execute("CREATE TABLE school (id INTEGER PRIMARY KEY)")
        made.execute("CREATE TABLE room (school INTEGER REFERENCES school (id))")
        made.execute("INSERT INTO room VALUES (7)")
        made.commit()
    with pytest.raises(BackupError, match="A row of room names a row of school that is not there"):
        check_sqlite(copy)


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_a_program_that_fails_is_a_sentence_without_the_password(tmp_path):
    with pytest.raises(BackupError) as refused:
        run_program("pg_dump", "--format=custom", "--table=nobody", f"--file={tmp_path / 'dump'}")
    assert "no matching tables were found" in str(refused.value)
    assert connection.settings_dict["PASSWORD"] not in str(refused.value)
