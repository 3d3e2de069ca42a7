"""Sending, saying what the columns are, judging in pieces, throwing away."""

from __future__ import annotations

import pytest
from django.core.files.storage import default_storage

from core.models import Event
from inventory.exceptions import ImportRefusedError
from inventory.models import ColumnMemory, ImportBatch, ImportRow, Instrument
from inventory.services.importing import (
    begin_import,
    choose_columns,
    drop_import,
    judge_again,
    judge_more,
    publish_import,
)
from tests.factories import NOW, TODAY, make_director, make_instrument
from tests.inventory.services.importing.makers import LIST, choices_for, make_batch, make_judged

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"%PDF-1.7", "PDF"),
        (b"\xd0\xcf\x11\xe0 old", "old workbook"),
        (b"<html><table>", "web page"),
        (b"PK\x03\x04 broken", "workbook"),
        (b"Instrument,Make\n", "no rows below its header"),
    ],
)
def test_a_file_that_is_no_list_is_refused_in_plain_words_and_nothing_is_kept(school, data, words):
    actor = make_director(school)
    before = Event.objects.count()
    with pytest.raises(ImportRefusedError, match=words):
        begin_import(school=school, data=data, filename="x.xlsx", actor=actor, at=NOW)
    assert not ImportBatch.objects.exists()
    assert Event.objects.count() == before


def test_a_damage_found_on_the_way_keeps_nothing(school, monkeypatch):
    monkeypatch.setattr("core.sheets.reading.MOST_ROWS", 60)
    data = b"Instrument,Make\n" + b"Tpt,Plain\n" * 70
    with pytest.raises(ImportRefusedError, match="more than 60 rows"):
        begin_import(school=school, data=data, filename="x.csv", actor=make_director(school), at=NOW)
    assert not ImportBatch.objects.exists()


def test_nobody_imports_for_a_school_that_is_not_theirs(school, stranger):
    with pytest.raises(ImportRefusedError, match="may not import"):
        begin_import(school=school, data=LIST, filename="x.csv", actor=stranger, at=NOW)


def test_the_same_file_sent_twice_waits_once(school, director):
    first = begin_import(school=school, data=LIST, filename="x.csv", actor=director, at=NOW)
    second = begin_import(school=school, data=LIST, filename="y.csv", actor=director, at=NOW)
    assert (second.batch, second.is_new) == (first.batch, False)


def test_judging_writes_no_instrument_and_tells_row_column_and_reason(school):
    batch = make_judged(school=school)
    assert (batch.state, batch.rows_new, batch.rows_problem) == (ImportBatch.State.JUDGED, 2, 1)
    row = ImportRow.objects.get(batch=batch, state=ImportRow.State.PROBLEM)
    assert (row.number, row.column) == (4, "Instrument")
    assert "is not a kind of instrument" in row.reason
    assert not Instrument.objects.exists()


def test_judging_piece_by_piece_gives_the_same_answers_as_in_one_go(school):
    lines = [b"Instrument,Make,Serial", *(b"Tpt,Plain,%d" % (n % 7) for n in range(12)), *([b"Flute,Plain,"] * 9)]
    make_instrument(school=school, kind_code="flute", maker="Plain", serial="")
    whole = make_judged(school=school, data=b"\n".join(lines))
    pieces = make_batch(school=school, data=b"\n".join([*lines, b""]), name="b.csv")
    choose_columns(batch=pieces, choices=choices_for(pieces), actor=pieces.actor, at=NOW)
    rounds = 0
    while pieces.state == ImportBatch.State.READING:
        pieces, rounds = judge_more(batch=pieces, today=TODAY, most=4), rounds + 1
    assert rounds == 6
    told = ("number", "state", "reason", "fingerprint")
    assert list(pieces.rows.values_list(*told)) == list(whole.rows.values_list(*told))


def test_whoever_judges_from_a_stale_page_judges_nothing_twice(school):
    batch = make_batch(school=school)
    choose_columns(batch=batch, choices=choices_for(batch), actor=batch.actor, at=NOW)
    stale = ImportBatch.objects.get(pk=batch.pk)
    judge_more(batch=batch, today=TODAY)
    again = judge_more(batch=stale, today=TODAY)
    assert (again.rows_judged, again.rows.count()) == (3, 3)


def test_a_list_without_a_kind_cannot_be_judged(school):
    batch = make_batch(school=school)
    with pytest.raises(ImportRefusedError, match="what kind of instrument"):
        choose_columns(batch=batch, choices={0: ""}, actor=batch.actor, at=NOW)
    batch.refresh_from_db()
    assert batch.mapping == {}
    assert not ColumnMemory.objects.exists()


def test_a_field_for_two_columns_is_refused(school):
    batch = make_batch(school=school)
    with pytest.raises(ImportRefusedError, match="one column only"):
        choose_columns(batch=batch, choices={1: "serial", 2: "serial"}, actor=batch.actor, at=NOW)


def test_text_longer_than_the_register_keeps_is_a_problem_before_anything_is_written(school):
    batch = make_judged(school=school, data=b"Instrument,Make,Serial,Tag\nTpt,%s,1,\nTpt,Plain,2,A/1\n" % (b"x" * 90))
    reasons = list(batch.rows.values_list("column", "reason"))
    assert reasons[0][0] == "Make"
    assert "longer than 80 characters" in reasons[0][1]
    assert reasons[1][0] == "Tag"
    assert "slash" in reasons[1][1]


def test_judging_again_sees_what_has_been_registered_meanwhile(school):
    batch = make_judged(school=school)
    make_instrument(school=school, maker="Plain", serial="1")
    judge_again(batch=batch, actor=batch.actor, at=NOW)
    assert judge_more(batch=batch, today=TODAY).rows_known == 1


def test_a_list_thrown_away_leaves_no_row_and_no_file(school, django_capture_on_commit_callbacks):
    batch = make_judged(school=school)
    name = batch.file.name
    with django_capture_on_commit_callbacks(execute=True):
        drop_import(batch=batch, actor=batch.actor, at=NOW)
    assert not ImportRow.objects.exists()
    assert not default_storage.exists(name)
    with pytest.raises(ImportRefusedError):
        drop_import(batch=batch, actor=batch.actor, at=NOW)


def test_a_published_list_cannot_be_judged_again_or_thrown_away(school):
    batch = make_judged(school=school)
    publish_import(batch=batch, actor=batch.actor, at=NOW, today=TODAY)
    batch.refresh_from_db()
    for act in (judge_again, drop_import):
        with pytest.raises(ImportRefusedError):
            act(batch=batch, actor=batch.actor, at=NOW)
    assert Instrument.objects.count() == 2


def test_a_mark_that_is_none_of_ours_does_no_harm(school):
    data = b"Instrument,Make,Row,Problem,Row mark\nTpt,Plain,2,x,%s\n" % (b"M" * 500)
    batch = make_judged(school=school, data=data)
    assert batch.rows_new == 1
    assert len(batch.rows.get().fingerprint) <= 64
