"""What the log keeps with from and to, and what checks find of it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import connection

from core.acts import service
from core.events import TEXTS, broken_links, record_event, text_hash
from core.free_text import Typed, rewrite, typed_texts
from core.models import Event, Revision
from core.revisions import (
    ERASED,
    kept_of,
    log_redacted,
    plain_value,
    row_differences,
    text_differences,
    texts_of,
    versions_of,
)
from inventory.models import Donation, Instrument
from inventory.services.registering import change_instrument, record_donation
from inventory.services.state import lock_instruments
from tests.factories import NOW, make_instrument, make_room, make_school

pytestmark = pytest.mark.django_db


def found():
    return [*row_differences(), *text_differences(), *broken_links()]


def sql(words, *values):
    with connection.cursor() as cursor:
        cursor.execute(words, values)
        assert cursor.rowcount >= 1


@pytest.fixture
def instrument(school, director):
    """Registered with everything, and corrected twice."""
    row = make_instrument(
        school=school, serial="12345", notes="case is new", funding_source="Boosters", title_holder="District",
        award_number="A-1", acquisition_cost_amount=Decimal("467.1"), acquired_on=date(2008, 11, 1), year_made=2006,
    )  # fmt: skip
    change_instrument(
        instrument=row,
        actor=director,
        at=NOW,
        serial="12354",
        acquisition_cost_amount=Decimal(1250),
        notes="case is old",
    )
    change_instrument(instrument=row, actor=director, at=NOW, room=make_room(school=school), notes="", year_made=None)
    return Instrument.objects.get(pk=row.pk)


@pytest.mark.parametrize(
    ("column", "value", "kept"),
    [
        ("acquisition_cost_amount", Decimal(1200), "1200.00"),
        ("acquisition_cost_amount", "99.5", "99.50"),
        ("federal_percent", Decimal("12.5"), "12.50"),
        ("acquired_on", date(2020, 3, 1), "2020-03-01"),
        ("acquired_on", "2020-03-01", "2020-03-01"),
        ("year_made", 1987, 1987),
        ("level", "student", "student"),
        ("options", {}, None),
        ("options", {"key": "F"}, {"key": "F"}),
        ("serial", "", None),
        ("room", None, None),
    ],
)
def test_a_value_is_kept_alike_before_and_after_it_was_stored(column, value, kept):
    assert plain_value(Instrument._meta.get_field(column), value) == kept


def test_a_registered_instrument_is_told_in_full(instrument):
    event = Event.objects.get(act="registered")
    assert event.after == {
        "asset_number": instrument.asset_number, "kind": "trumpet", "level": "student", "year_made": 2006,
        "options": {"third_slide": "ring"}, "school": instrument.school_id, "acquired_by": "bought",
        "acquired_on": "2008-11-01", "acquisition_cost_amount": "467.10", TEXTS: event.after[TEXTS],
    }  # fmt: skip
    texts = {row.column: row.after for row in Revision.objects.filter(number=event.number)}
    assert texts == {
        "serial": "12345", "maker": "Plain Brass Works", "funding_source": "Boosters", "title_holder": "District",
        "award_number": "A-1", "notes": "case is new",
    }  # fmt: skip
    assert set(event.after[TEXTS]) == set(texts)


def test_a_correction_keeps_from_and_to_and_no_typed_word_in_the_event(instrument):
    first, second = Event.objects.filter(act="corrected").order_by("number")
    assert (first.before["acquisition_cost_amount"], first.after["acquisition_cost_amount"]) == ("467.10", "1250.00")
    assert second.before == {"room": None, "year_made": 2006, TEXTS: second.before[TEXTS]}
    assert second.after == {"room": instrument.room_id, "year_made": None, TEXTS: second.after[TEXTS]}
    texts = {row.column: row for row in Revision.objects.filter(number=first.number)}
    assert {name: (row.before, row.after) for name, row in texts.items()} == {
        "serial": ("12345", "12354"),
        "notes": ("case is new", "case is old"),
    }
    serial = texts["serial"]
    assert first.after[TEXTS]["serial"] == text_hash(serial.salt, "12354")
    assert first.before[TEXTS]["serial"] == text_hash(serial.salt, "12345")
    assert (serial.thread, serial.tenant) == (instrument.pk, instrument.school_id)
    said = str(list(Event.objects.values_list("before", "after")))
    assert not [word for word in ("12345", "12354", "Boosters", "case", "Plain") if word in said]
    assert found() == []


def test_a_form_that_changes_nothing_leaves_no_event(instrument, director):
    count = Event.objects.count()
    change_instrument(instrument=instrument, actor=director, at=NOW, serial="12354", notes="")
    assert Event.objects.count() == count


def test_no_two_texts_share_a_salt(instrument):
    salts = list(Revision.objects.values_list("salt", flat=True))
    assert len(salts) == len(set(salts)) > 6
    assert {len(salt) for salt in salts} == {32}


def test_a_gift_is_kept_with_from_and_to(instrument, director):
    for name, thanked in (("A Giver", None), ("B Giver", date(2026, 9, 10))):
        record_donation(
            instrument=instrument,
            donor_name=name,
            received_on=date(2026, 9, 1),
            thanked_on=thanked,
            actor=director,
            at=NOW,
        )
    gift, event = Donation.objects.get(), Event.objects.get(act="gift_corrected")
    assert (event.subject_id, event.thread) == (str(gift.pk), instrument.thread)
    assert {**event.before, TEXTS: 0} == {"thanked_on": None, TEXTS: 0}
    assert event.after["thanked_on"] == "2026-09-10"
    assert texts_of([event])[event.number, "donor_name"].before == "A Giver"
    assert found() == []
    sql("UPDATE inventory_donation SET thanked_on = '2026-09-09'")
    assert [line for line in found() if "thanked_on" in line]


@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("UPDATE inventory_instrument SET acquisition_cost_amount = 1", "acquisition_cost_amount is '1.00'"),
        ("UPDATE inventory_instrument SET funding_source = 'mine'", "funding_source is 'mine'"),
        ("UPDATE inventory_instrument SET notes = 'x'", "notes is 'x'"),
        ("UPDATE inventory_instrument SET serial = '9'", "serial is '9'"),
        ("UPDATE inventory_instrument SET title_holder = ''", "title_holder is None"),
        ("UPDATE inventory_instrument SET kind_code = 'cornet'", "kind_code is 'cornet'"),
        ("UPDATE inventory_instrument SET acquired_on = NULL", "acquired_on is None"),
        ("UPDATE inventory_instrument SET room_id = NULL", "room is None"),
        ("UPDATE core_revision SET after = 'y' WHERE \"column\" = 'serial'", "its serial does not match its hash"),
        ("UPDATE core_revision SET before = 'y' WHERE \"column\" = 'notes'", "its notes before does not match its hash"),
        ("UPDATE core_revision SET salt = '' WHERE \"column\" = 'maker'", "lost its salt"),
        ("UPDATE core_revision SET tenant = 0 WHERE \"column\" = 'maker'", "belongs to another row now"),
        ("UPDATE core_revision SET number = 99999 WHERE \"column\" = 'maker'", "event 99999 tells no such text"),
        ("DELETE FROM core_revision WHERE \"column\" = 'maker'", "the text of its maker is gone"),
    ],
)  # fmt: skip
def test_what_is_changed_behind_the_programs_back_is_found(instrument, statement, says):
    sql(statement)
    assert any(says in line for line in found()), found()


def test_a_revision_that_no_event_tells_of_is_found(instrument):
    numbers = [0, Event.objects.get(act="tag_issued").number, Event.objects.latest("number").number + 9]
    for number in numbers:
        Revision.objects.create(
            number=number,
            subject_type="inventory.instrument",
            subject_id=instrument.pk,
            column="key",
            after="x",
            salt="s",
        )
    assert [line for line in found() if "tells no such text" in line] == [
        f"key of inventory.instrument {instrument.pk}: event {number} tells no such text" for number in numbers
    ]


def test_a_change_behind_the_back_still_shows_after_it_was_corrected_over(instrument, director):
    sql("UPDATE inventory_instrument SET acquisition_cost_amount = 1, maker = 'Other'")
    change_instrument(
        instrument=instrument, actor=director, at=NOW, acquisition_cost_amount=Decimal(2), maker="Plain Brass"
    )
    number = Event.objects.filter(act="corrected").latest("number").number
    assert found() == [
        f"event {number}: acquisition_cost_amount was '1.00' before, earlier events say '1250.00'",
        f"event {number}: maker was 'Other' before, earlier events say 'Plain Brass Works'",
    ]


def test_a_row_that_no_event_began_is_found(instrument):
    Instrument.objects.create(asset_number="X-9", kind_code="trumpet", school=instrument.school, registered_at=NOW)
    assert [line for line in found() if line.endswith("no event says what it was when it was entered")]


@service
def redact(*, chosen, actor, at):
    versions = versions_of(chosen)
    lock_instruments(*{typed.thread for typed in versions})
    gone = [typed for typed in versions if rewrite(typed, lambda text: text.replace("Rosa", "[erased]"))]
    record_event(act="erased", subject=make_school(), after={ERASED: log_redacted(gone)})


def test_a_name_goes_from_the_row_and_from_every_version_of_the_text(instrument, director):
    for notes in ("Rosa's dent", "Rosa's dent, mended", "clean"):
        change_instrument(instrument=instrument, actor=director, at=NOW, notes=notes)
    change_instrument(instrument=instrument, actor=director, at=NOW, title_holder="Rosa Lindqvist")
    everything = [typed for typed in typed_texts(tenant=instrument.school_id) if "Rosa" in typed.text]
    assert {typed.home for typed in everything} == {
        f"inventory.instrument:{instrument.pk}:notes", f"inventory.instrument:{instrument.pk}:title_holder",
    }  # fmt: skip
    redact(chosen=everything, actor=director, at=NOW)
    assert Instrument.objects.get().title_holder == "[erased] Lindqvist"
    assert not [row for row in Revision.objects.all() if "Rosa" in row.before + row.after]
    erased = [row for row in Revision.objects.all() if row.is_erased]
    assert Event.objects.get(act="erased").after == {ERASED: sorted(row.pk for row in erased)}
    assert {row.column for row in erased} == {"notes", "title_holder"}
    assert found() == []
    sql("UPDATE inventory_instrument SET title_holder = 'Somebody'")
    assert any("title_holder is 'Somebody'" in line for line in found())


def test_a_row_that_went_to_another_school_follows_its_revision_and_the_other_way_round(instrument, director):
    other = make_school()
    change_instrument(instrument=instrument, actor=director, at=NOW, notes="Rosa had it")
    change_instrument(instrument=instrument, actor=director, at=NOW, school=other, room=None)
    old = [typed for typed in typed_texts(tenant=instrument.school_id) if "Rosa" in typed.text]
    assert [typed.model for typed in old] == [Revision]
    now = [typed for typed in typed_texts(tenant=other.pk) if "Rosa" in typed.text]
    assert [typed.model for typed in now] == [Instrument]
    assert {typed.key for typed in versions_of(old)} == {typed.key for typed in versions_of(now)}
    redact(chosen=old, actor=director, at=NOW)
    assert Instrument.objects.get().notes == "[erased] had it"
    assert found() == []


def test_what_no_log_keeps_has_no_versions(instrument):
    typed = Typed(Donation, 3, "history", "x", 1)
    other = Typed(Instrument, instrument.pk, "notes", "not there", instrument.pk)
    assert versions_of([typed, other]) == [typed, other]
    assert versions_of([]) == []
    assert log_redacted([]) == []


def test_texts_are_read_by_one_query_and_none_where_events_have_none(instrument, django_assert_num_queries):
    events, count = list(Event.objects.all()), Revision.objects.count()
    with django_assert_num_queries(1):
        assert len(texts_of(events)) == count
    with django_assert_num_queries(0):
        assert texts_of([event for event in events if event.act == "tag_issued"]) == {}


def test_what_is_kept_of_a_model_names_its_columns():
    for model in (Instrument, Donation):
        kept = kept_of(model)
        for column in (*kept.values, *kept.texts):
            assert model._meta.get_field(column)
