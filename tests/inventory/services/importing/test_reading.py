"""A large workbook: kept as it came, read while its page shows how far it is, once by whoever began last."""

from __future__ import annotations

import pytest
from django.core.files.storage import default_storage

from core.models import Event
from inventory.exceptions import ImportRefusedError
from inventory.models import ImportBatch
from inventory.services.importing import begin_import, choose_columns, drop_import, read_list, sample_rows
from inventory.services.importing import reading as module
from tests.factories import NOW, make_director
from tests.inventory.services.importing.makers import LIST, make_batch, make_received, make_workbook

pytestmark = pytest.mark.django_db


def test_a_large_workbook_is_looked_into_and_waits_to_be_read(school):
    batch = make_received(school=school)
    assert (batch.state, batch.rows_total, batch.lines_total) == (ImportBatch.State.RECEIVED, 0, 13)
    assert batch.header == ["Instrument", "Serial"]


def test_a_small_workbook_and_any_text_file_are_read_at_once(school, director):
    small = make_workbook([["Instrument"], ["Tpt"], ["Tpt"]])
    for data, most in ((small, len(small)), (LIST, 1)):
        begun = begin_import(school=school, data=data, filename="x", actor=director, at=NOW, read_at_once=most)
        assert begun.batch.state == ImportBatch.State.READING
        assert begun.batch.rows_total > 0


def test_reading_tells_how_far_it_is_and_ends_with_the_rows_as_if_read_at_once(
    school, monkeypatch, django_capture_on_commit_callbacks
):
    monkeypatch.setattr(module, "TOLD_EVERY", 5)
    rows = [["Instrument", "Serial"], *([f"Tpt {n}", str(n)] for n in range(12))]
    batch = make_received(school=school, data=make_workbook(rows))
    told, sent = [], batch.file.name
    passing = module._telling

    def watched(rows, **more):
        for row in passing(rows, **more):
            yield row
            told.append(ImportBatch.objects.get(pk=batch.pk).lines_read)

    monkeypatch.setattr(module, "_telling", watched)
    with django_capture_on_commit_callbacks(execute=True):
        batch = read_list(batch=batch, actor=batch.actor, at=NOW)
    assert told == [0] * 5 + [6] * 5 + [11] * 2  # a row's turn is told before the next is read
    assert (batch.state, batch.rows_total) == (ImportBatch.State.READING, 12)
    assert not default_storage.exists(sent)
    whole = make_batch(school=school, data=make_workbook(rows), name="b.xlsx")
    assert sample_rows(batch) == sample_rows(whole)


def test_whoever_begins_last_reads_and_the_earlier_reader_keeps_nothing(school, monkeypatch):
    monkeypatch.setattr(module, "TOLD_EVERY", 5)
    batch = make_received(school=school)
    passing, begun = module._telling, []

    def overtaken(rows, **more):
        for row in passing(rows, **more):
            yield row
            if not begun:
                begun.append(True)
                assert read_list(batch=batch, actor=batch.actor, at=NOW).rows_total == 12

    monkeypatch.setattr(module, "_telling", overtaken)
    after = read_list(batch=batch, actor=batch.actor, at=NOW)
    assert (after.state, after.rows_total) == (ImportBatch.State.READING, 12)
    assert len(sample_rows(after)) == 12


def test_a_list_that_is_read_is_not_read_again(school):
    batch = make_received(school=school)
    first = read_list(batch=batch, actor=batch.actor, at=NOW)
    assert read_list(batch=batch, actor=batch.actor, at=NOW).file.name == first.file.name


def test_damage_found_further_down_throws_the_list_away_and_says_why(school, monkeypatch):
    batch = make_received(school=school, rows=70)
    monkeypatch.setattr("core.sheets.reading.MOST_ROWS", 60)
    with pytest.raises(ImportRefusedError, match=r"more than 60 rows.*thrown away"):
        read_list(batch=batch, actor=batch.actor, at=NOW)
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.DROPPED
    assert Event.objects.filter(act="import_dropped").count() == 1


def test_a_list_that_is_not_read_has_no_columns_yet_but_can_be_thrown_away(school):
    batch = make_received(school=school, actor=make_director(school))
    read = make_batch(school=school, actor=batch.actor)
    batch.file = read.file  # whatever it holds, the state decides
    with pytest.raises(ImportRefusedError, match="not open"):
        choose_columns(batch=batch, choices={0: "kind"}, actor=batch.actor, at=NOW)
    drop_import(batch=batch, actor=batch.actor, at=NOW)
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.DROPPED
