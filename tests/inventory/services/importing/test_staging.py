"""Sending, saying what the columns are, judging in pieces, throwing away."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.core.files.storage import default_storage

from core.models import Event
from core.progress import progress_to
from core.sheets import SheetRow
from inventory.exceptions import RefusedError
from inventory.models import ColumnMemory, Donation, ImportBatch, ImportRow, Instrument
from inventory.services.importing import (
    KEPT_FOR,
    begin_import,
    choose_columns,
    drop_import,
    forget_old_lists,
    forget_problem_rows,
    judge_again,
    judge_more,
    publish_import,
    read_list,
    sample_rows,
)
from inventory.services.importing import staging as module
from inventory.services.importing.staging import rows_in, write_rows
from tests.factories import NOW, TODAY, make_director, make_instrument
from tests.inventory.services.importing.makers import (
    LIST,
    choices_for,
    make_batch,
    make_judged,
    make_received,
    make_workbook,
)

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
    with pytest.raises(RefusedError, match=words):
        begin_import(school=school, data=data, filename="x.xlsx", actor=actor, at=NOW)
    assert not ImportBatch.objects.exists()
    assert Event.objects.count() == before


def test_a_damage_found_on_the_way_keeps_nothing(school, monkeypatch):
    monkeypatch.setattr("core.sheets.reading.MOST_ROWS", 60)
    data = b"Instrument,Make\n" + b"Tpt,Plain\n" * 70
    with pytest.raises(RefusedError, match="more than 60 rows"):
        begin_import(school=school, data=data, filename="x.csv", actor=make_director(school), at=NOW)
    assert not ImportBatch.objects.exists()


def test_nobody_imports_for_a_school_that_is_not_theirs(school, stranger):
    with pytest.raises(RefusedError, match="may not import"):
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
    with pytest.raises(RefusedError, match="what kind of instrument"):
        choose_columns(batch=batch, choices={0: ""}, actor=batch.actor, at=NOW)
    batch.refresh_from_db()
    assert batch.mapping == {}
    assert not ColumnMemory.objects.exists()


def test_a_field_for_two_columns_is_refused(school):
    batch = make_batch(school=school)
    with pytest.raises(RefusedError, match="one column only"):
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
    with pytest.raises(RefusedError):
        drop_import(batch=batch, actor=batch.actor, at=NOW)


def test_a_published_list_cannot_be_judged_again_or_thrown_away(school):
    batch = make_judged(school=school)
    publish_import(batch=batch, actor=batch.actor, at=NOW, today=TODAY)
    batch.refresh_from_db()
    for act in (judge_again, drop_import):
        with pytest.raises(RefusedError):
            act(batch=batch, actor=batch.actor, at=NOW)
    assert Instrument.objects.count() == 2


def test_a_mark_that_is_none_of_ours_does_no_harm(school):
    data = b"Instrument,Make,Row,Problem,Row mark\nTpt,Plain,2,x,%s\n" % (b"M" * 500)
    batch = make_judged(school=school, data=data)
    assert batch.rows_new == 1
    assert len(batch.rows.get().fingerprint) <= 64


# A large workbook: kept as it came, read while its page shows how far it is, once by whoever began last


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
    school, django_capture_on_commit_callbacks
):
    rows = [["Instrument", "Serial"], *([f"Tpt {n}", str(n)] for n in range(12))]
    batch = make_received(school=school, data=make_workbook(rows))
    told, sent = [], batch.file.name
    with django_capture_on_commit_callbacks(execute=True), progress_to(lambda *said: told.append(said)):
        batch = read_list(batch=batch, actor=batch.actor, at=NOW)
    assert (told[0], told[-1]) == ((2, 13, "Lines read"), (13, 13, "Lines read"))
    assert (batch.state, batch.rows_total) == (ImportBatch.State.READING, 12)
    assert not default_storage.exists(sent)
    whole = make_batch(school=school, data=make_workbook(rows), name="b.xlsx")
    assert sample_rows(batch) == sample_rows(whole)


def test_of_two_who_read_the_first_who_is_done_keeps_the_rows(school, monkeypatch, django_capture_on_commit_callbacks):
    batch = make_received(school=school)
    passing, begun = module._counted, []

    def overtaken(rows, **more):
        for row in passing(rows, **more):
            yield row
            if not begun:
                begun.append(True)
                begun.append(read_list(batch=batch, actor=batch.actor, at=NOW).file.name)

    monkeypatch.setattr(module, "_counted", overtaken)
    with django_capture_on_commit_callbacks(execute=True):
        after = read_list(batch=batch, actor=batch.actor, at=NOW)
    assert (after.state, after.rows_total, after.file.name) == (ImportBatch.State.READING, 12, begun[1])
    assert len(sample_rows(after)) == 12


def test_a_list_that_is_read_is_not_read_again(school):
    batch = make_received(school=school)
    first = read_list(batch=batch, actor=batch.actor, at=NOW)
    assert read_list(batch=batch, actor=batch.actor, at=NOW).file.name == first.file.name


def test_a_list_discarded_before_its_file_is_opened_ends_as_a_discarded_one(school, django_capture_on_commit_callbacks):
    batch = make_received(school=school)
    stale = ImportBatch.objects.get(pk=batch.pk)
    with django_capture_on_commit_callbacks(execute=True):
        drop_import(batch=batch, actor=batch.actor, at=NOW)
    assert read_list(batch=stale, actor=batch.actor, at=NOW).state == ImportBatch.State.DROPPED


def test_a_file_that_is_lost_while_its_list_waits_is_an_error(school):
    batch = make_received(school=school)
    batch.file.storage.delete(batch.file.name)
    with pytest.raises(FileNotFoundError):
        read_list(batch=batch, actor=batch.actor, at=NOW)


def test_damage_found_further_down_throws_the_list_away_and_says_why(school, monkeypatch):
    batch = make_received(school=school, rows=70)
    monkeypatch.setattr("core.sheets.reading.MOST_ROWS", 60)
    with pytest.raises(RefusedError, match=r"more than 60 rows.*discarded"):
        read_list(batch=batch, actor=batch.actor, at=NOW)
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.DROPPED
    assert Event.objects.filter(act="import_dropped").count() == 1


def test_a_list_that_is_not_read_has_no_columns_yet_but_can_be_thrown_away(school):
    batch = make_received(school=school, actor=make_director(school))
    read = make_batch(school=school, actor=batch.actor)
    batch.file = read.file  # whatever it holds, the state decides
    with pytest.raises(RefusedError, match="no longer open"):
        choose_columns(batch=batch, choices={0: "kind"}, actor=batch.actor, at=NOW)
    drop_import(batch=batch, actor=batch.actor, at=NOW)
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.DROPPED


# Rows on the disk


def test_rows_are_read_back_from_any_place():
    rows = [SheetRow(number, (f"cell {number}", "line\nbreak")) for number in range(3, 10)]
    out = io.BytesIO()
    assert write_rows(rows=rows, out=out) == 7
    lines = out.getvalue().splitlines(keepends=True)
    assert list(rows_in(lines)) == rows
    assert list(rows_in(lines, start=2, stop=4)) == rows[2:4]


def test_half_a_character_does_not_stop_the_reading():
    out = io.BytesIO()
    write_rows(rows=[SheetRow(1, ("\ud800",))], out=out)
    assert len(list(rows_in(out.getvalue().splitlines()))) == 1


# What lists kept of people goes when nobody needs it

GIFTS = b"Instrument,Serial,Donated by\nTpt,1,A Kind Giver\nNothing known,2,Another Giver\n"


def make_written(school) -> ImportBatch:
    batch = make_judged(school=school, data=GIFTS)
    publish_import(batch=batch, actor=batch.actor, at=NOW, today=TODAY)
    return batch


def kept_texts() -> str:
    return str(list(ImportRow.objects.values_list("cells", "values", "remarks", "reason")))


def test_rows_to_put_right_stay_a_while_and_then_go_with_the_names_in_them(school):
    make_written(school)
    assert forget_old_lists(at=NOW + KEPT_FOR) == (0, 0)
    assert "Another Giver" in kept_texts()
    assert forget_old_lists(at=NOW + KEPT_FOR + timedelta(seconds=1)) == (0, 1)
    assert "Giver" not in kept_texts()
    assert Donation.objects.get().donor_name == "A Kind Giver"  # of the one that came in
    assert Event.objects.get(act="import_rows_forgotten").after == {"rows": 1}
    assert forget_old_lists(at=NOW + 2 * KEPT_FOR) == (0, 0)


@pytest.mark.parametrize("make", [make_judged, make_received])
def test_a_list_that_nobody_confirmed_is_thrown_away_after_the_same_time(school, make):
    make(school=school)
    assert forget_old_lists(at=NOW + KEPT_FOR) == (0, 0)
    assert forget_old_lists(at=NOW + KEPT_FOR + timedelta(days=1)) == (1, 0)
    assert ImportBatch.objects.get().state == ImportBatch.State.DROPPED
    assert not ImportRow.objects.exists()


def test_a_person_may_forget_them_at_once_but_only_of_a_written_list(school):
    batch = make_written(school)
    assert forget_problem_rows(batch=batch, actor=batch.actor, at=NOW) == 1
    assert forget_problem_rows(batch=batch, actor=batch.actor, at=NOW) == 0
    assert Event.objects.filter(act="import_rows_forgotten").count() == 1
    waiting = make_judged(school=school, data=GIFTS + b"\n")
    with pytest.raises(RefusedError, match="not been imported yet"):
        forget_problem_rows(batch=waiting, actor=waiting.actor, at=NOW)
    assert "Another Giver" in kept_texts()
