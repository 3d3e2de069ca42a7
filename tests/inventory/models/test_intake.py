"""Staging: a row of a file is judged once, a column's meaning is kept once, a batch is its school's."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from inventory.models import ColumnMemory, ImportBatch, ImportRow
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def batch(school):
    return ImportBatch.objects.create(school=school, filename="horns.csv", sha256="0" * 64, begun_at=NOW)


def test_a_batch_is_shown_to_its_school_only(batch, director, stranger):
    assert batch in ImportBatch.objects.visible_to(director)
    assert batch not in ImportBatch.objects.visible_to(stranger)


def test_a_row_of_a_file_stands_once_and_in_its_order(batch):
    for number in (3, 2):
        ImportRow.objects.create(batch=batch, number=number, state=ImportRow.State.NEW)
    with pytest.raises(IntegrityError), transaction.atomic():
        ImportRow.objects.create(batch=batch, number=2, state=ImportRow.State.KNOWN)
    assert [str(row) for row in batch.rows.all()] == ["row 2", "row 3"]


def test_a_heading_has_one_meaning_in_a_school(school):
    known = ColumnMemory.objects.create(school=school, heading="S/N", field="serial")
    assert str(known) == "S/N → serial"
    with pytest.raises(IntegrityError), transaction.atomic():
        ColumnMemory.objects.create(school=school, heading="S/N", field="asset_number")


def test_the_newest_batch_comes_first(batch, school):
    newer = ImportBatch.objects.create(school=school, filename="more.csv", sha256="1" * 64, begun_at=NOW)
    assert [str(one) for one in ImportBatch.objects.all()] == ["more.csv", "horns.csv"]
    assert newer.state == ImportBatch.State.READING
