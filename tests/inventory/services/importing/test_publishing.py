"""All new rows or none, once, in step with everything the services keep."""

from __future__ import annotations

from functools import partial

import pytest
from django.core.files.storage import default_storage
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from core.events import broken_links
from core.models import Event
from core.progress import progress_to
from inventory.exceptions import RefusedError
from inventory.models import Accessory, Custody, District, Donation, ImportBatch, Instrument, Room, StaffRole, Tag
from inventory.rules.facts import Owed
from inventory.rules.intake.judge import RowJudgement, RowState
from inventory.services.importing import (
    drop_import,
    forget_old_lists,
    judge_again,
    judge_more,
    publish_import,
    publishing,
)
from inventory.services.importing.publishing import columns_when_new, prepared
from inventory.services.registering import TOKEN_LENGTH, register_instrument
from tests.contests import at_once
from tests.factories import NOW, TODAY, make_director, make_instrument, make_room, make_school, make_user
from tests.inventory.services.importing.makers import make_batch, make_judged
from tests.opening import differences

pytestmark = pytest.mark.django_db


def publish(batch: ImportBatch) -> int:
    return publish_import(batch=batch, actor=batch.actor, at=NOW, today=TODAY).written


def test_what_an_import_writes_is_what_registering_one_by_one_writes(school):
    publish(make_judged(school=school, data=b"Instrument,Make,Serial\nTuba,Plain,1\n"))
    imported = Instrument.objects.get()
    registered = register_instrument(
        kind_code=imported.kind_code, school=school, actor=None, at=NOW, maker="Plain", serial="2"
    )
    same = ("options", "level", "verdict", "limits", "readiness", "readiness_reasons", "ready_until", "inspected_at")
    same += ("whereabouts", "is_hygiene_due", "is_full_cleaning_due", "acquired_by", "registered_at", "school_id")
    for name in same:
        assert getattr(imported, name) == getattr(registered, name), name
    told = ("code", "name", "expected", "present", "is_essential", "position")
    assert list(imported.accessories.values_list(*told)) == list(registered.accessories.values_list(*told))
    assert imported.custodies.get().whereabouts == registered.custodies.get().whereabouts
    assert len(Tag.objects.live().get(instrument=imported).token) == TOKEN_LENGTH


def test_after_an_import_nothing_differs_from_the_facts(school):
    make_instrument(school=school)
    data = b"Instrument,Make\n" + b"".join(
        b"%s,Plain\n" % k for k in (b"Tpt", b"Flute", b"Snare kit", b"French horn") * 5
    )
    assert publish(make_judged(school=school, data=data)) == 20
    assert differences() == (21, [])
    assert list(broken_links()) == []


def test_numbers_of_the_file_are_kept_and_missing_ones_are_the_districts_next(school):
    make_instrument(school=school, asset_number="TD-0002")
    publish(make_judged(school=school, data=b"Instrument,Make,Tag\nTpt,A,\nTpt,B,td-0003\nTpt,C,\nTpt,D,x7\n"))
    numbers = dict(Instrument.objects.exclude(fingerprint="").values_list("maker", "asset_number"))
    assert numbers == {"A": "TD-0001", "B": "TD-0003", "C": "TD-0004", "D": "X7"}
    assert District.objects.get().next_asset_number == 5


def test_rooms_are_found_by_any_spelling_and_made_once(school):
    make_room(school=school, name="Band Room")
    publish(make_judged(school=school, data=b"Instrument,Room\nTpt,band room\nTpt,Rm 12\nTpt,room 12\n"))
    assert sorted(Room.objects.values_list("name", flat=True)) == ["Band Room", "Rm 12"]
    assert Instrument.objects.filter(room__name="Rm 12").count() == 2


def test_a_donor_is_kept_apart_and_in_no_event(school):
    publish(make_judged(school=school, data=b"Instrument,Donated by,Date\nTpt,A Kind Giver,2015-08-01\n"))
    gift = Donation.objects.get()
    assert (gift.donor_name, str(gift.received_on)) == ("A Kind Giver", "2015-08-01")
    assert gift.instrument.acquired_by == "gift"
    assert "Kind Giver" not in str(list(Event.objects.values_list("before", "after")))
    assert "Kind Giver" not in gift.instrument.notes


def test_how_many_rows_are_ready_is_told_before_the_transaction(school, monkeypatch):
    monkeypatch.setattr("inventory.services.importing.publishing.READY_AT_ONCE", 3)
    told, writing = [], publishing._write

    def written(batch, *given, **more):
        told.append("writing")
        writing(batch, *given, **more)

    monkeypatch.setattr(publishing, "_write", written)
    data = b"Instrument,Serial\n" + b"".join(b"Tpt,%d\n" % n for n in range(7))
    batch = make_judged(school=school, data=data)
    monkeypatch.setattr("core.progress.AT_MOST_EVERY", 0.0)
    with progress_to(lambda done, *_: told.append(done)):
        assert publish(batch) == 7
    assert told == [3, 6, 7, 0, "writing"]


def test_confirming_twice_writes_once(school):
    batch = make_judged(school=school)
    assert (publish(batch), publish(batch)) == (2, 0)
    assert Instrument.objects.count() == 2


def test_a_number_taken_meanwhile_refuses_the_whole_list_and_names_the_row(school):
    batch = make_judged(school=school)
    make_instrument(school=school, asset_number="F-1")
    before = (Instrument.objects.count(), Event.objects.count(), Tag.objects.count(), Custody.objects.count())
    with pytest.raises(RefusedError, match=r"Row 3: asset number “F-1” has been taken in the meantime"):
        publish(batch)
    assert (Instrument.objects.count(), Event.objects.count(), Tag.objects.count(), Custody.objects.count()) == before
    batch.refresh_from_db()
    assert batch.state == ImportBatch.State.JUDGED
    judge_again(batch=batch, actor=batch.actor, at=NOW)
    assert publish(judge_more(batch=batch, today=TODAY)) == 1


def test_a_serial_registered_meanwhile_refuses_the_whole_list(school):
    batch = make_judged(school=school)
    make_instrument(school=make_school(), maker="plain", serial="1")
    with pytest.raises(RefusedError, match="Row 2: serial “1” has been registered in the meantime"):
        publish(batch)
    assert not Accessory.objects.filter(instrument__fingerprint__gt="").exists()


def test_a_number_registered_at_the_very_moment_is_found_when_the_act_is_tried_again(school, monkeypatch):
    batch = make_judged(school=school, data=b"Instrument,Tag,Room\nTpt,,Rm 12\nFlute,F-1,\n")
    looking = publishing.known_fleet
    monkeypatch.setattr(publishing, "known_fleet", lambda schools: looking(schools)._replace(instruments=[]))
    make_instrument(school=school, asset_number="F-1")
    tries = []

    def looked(judged, schools):
        tries.append(len(judged))
        if len(tries) > 1:
            monkeypatch.setattr(publishing, "known_fleet", looking)
        refusing(judged, schools)

    refusing = publishing._refuse_conflicts
    monkeypatch.setattr(publishing, "_refuse_conflicts", looked)
    with pytest.raises(RefusedError, match=r"Row 3: asset number “F-1” has been taken in the meantime"):
        publish(batch)
    assert tries == [2, 2]
    assert Instrument.objects.count() == 1
    assert not Room.objects.filter(name="Rm 12").exists()


def test_an_import_that_was_tried_again_gives_the_numbers_that_are_free_by_then(school, monkeypatch):
    batch = make_judged(school=school, data=b"Instrument,Donated by\nTpt,A Kind Giver\nFlute,\n")
    inserting, tries = publishing.insert_rows, []

    def overtaken(model, rows, **more):
        if model is Tag and not tries:
            tries.append(model)
            District.objects.update(next_asset_number=7)
            raise IntegrityError("UNIQUE constraint failed: somebody else was first")
        inserting(model, rows, **more)

    monkeypatch.setattr(publishing, "insert_rows", overtaken)
    assert publish(batch) == 2
    assert sorted(Instrument.objects.values_list("asset_number", flat=True)) == ["TD-0001", "TD-0002"]
    assert Donation.objects.get().instrument.kind_code == "trumpet"
    assert list(broken_links()) == []


def test_all_events_of_an_import_are_written_by_one_statement(school):
    batch = make_judged(school=school, data=b"Instrument,Make\n" + b"Tpt,Plain\n" * 12)
    with CaptureQueriesContext(connection) as seen:
        publish(batch)
    assert sum('INSERT INTO "core_event"' in query["sql"] for query in seen) == 1


def test_the_same_rows_published_from_another_list_meanwhile_are_refused(school):
    data = b"Instrument,Make\nTpt,Plain\n"
    one = make_judged(school=school, data=data)
    other = make_judged(school=school, data=data + b"\n", name="b.csv")
    publish(one)
    with pytest.raises(RefusedError, match="has been imported in the meantime"):
        publish(other)


def test_a_list_not_yet_judged_or_thrown_away_is_refused(school):
    batch = make_batch(school=school)
    with pytest.raises(RefusedError):
        publish(batch)
    judged = make_judged(school=school, actor=batch.actor)
    drop_import(batch=judged, actor=batch.actor, at=NOW)
    with pytest.raises(RefusedError):
        publish(judged)
    assert not Instrument.objects.exists()


def test_who_lost_a_school_meanwhile_cannot_write_to_it(school):
    other = make_school(code="OAK", name="Oak Hill High")
    actor = make_director(school)
    StaffRole.objects.create(user=actor, role="director", school=other)
    batch = make_judged(school=school, actor=actor, data=b"Instrument,School\nTpt,OAK\n")
    assert batch.may_cross_schools
    StaffRole.objects.filter(user=actor, school=other).delete()
    batch.actor.refresh_from_db()
    with pytest.raises(RefusedError, match="may not import for"):
        publish_import(batch=batch, actor=make_user("director", school=school), at=NOW, today=TODAY)
    assert not Instrument.objects.exists()


def test_what_people_wrote_stays_only_where_it_has_to_be_put_right(
    school, django_capture_on_commit_callbacks, monkeypatch
):
    batch = make_judged(school=school)
    with monkeypatch.context() as patch:
        patch.setattr(publishing, "forget_file", lambda **_batch: (_ for _ in ()).throw(OSError("stopped")))
        with pytest.raises(OSError, match="stopped"), django_capture_on_commit_callbacks(execute=True):
            publish(batch)
    batch.refresh_from_db()
    assert batch.file, "the process stopped before it was deleted"
    name = batch.file.name
    forget_old_lists(at=NOW)
    assert not default_storage.exists(name)
    batch.refresh_from_db()
    assert not batch.file
    assert list(batch.rows.exclude(state="problem").values_list("cells", "values")) == [([], {}), ([], {})]
    assert batch.rows.get(state="problem").cells[0] == "Nothing known"


@pytest.mark.django_db(transaction=True)
def test_two_who_confirm_at_the_same_moment_write_once(school):
    batch = make_judged(school=school)
    written = at_once(*[partial(publish, batch)] * 2)
    assert sorted(written) == [0, 2]
    assert Instrument.objects.count() == 2
    assert list(broken_links()) == []


# Judged rows as unsaved instruments

VALUES = {"kind": "tuba", "school": "ELM", "maker": "Plain", "condition": "fair", "size": "3/4", "cost": "12.50"}


def test_a_row_becomes_an_instrument_that_could_be_saved(school):
    row = RowJudgement(2, RowState.NEW, VALUES, "abc:1")
    one = prepared(row, schools={"ELM": school}, at=NOW)
    one.instrument.asset_number = "X-1"
    one.instrument.full_clean()
    assert (one.row, one.instrument.fingerprint) == (2, "abc:1")
    assert one.remarks == ["fair"]
    assert str(one.instrument.acquisition_cost_amount) == "12.50"


@pytest.mark.parametrize(("change", "words"), [({"kind": "no_such"}, "no longer has"), ({"school": "ZZ"}, "may not")])
def test_a_kind_or_school_that_is_gone_refuses(school, change, words):
    row = RowJudgement(2, RowState.NEW, VALUES | change)
    with pytest.raises(RefusedError, match=words):
        prepared(row, schools={"ELM": school}, at=NOW)


def test_an_instrument_nobody_inspected_stays_in():
    columns = columns_when_new(kind_code="trumpet", options=(), owed=frozenset())
    assert (columns["verdict"], columns["readiness"]) == ("not_inspected", "stays_in")
    assert [reason["code"] for reason in columns["readiness_reasons"]] == ["not_inspected"]


def test_an_imported_instrument_owes_its_hygiene_even_if_it_was_bought(school):
    publish(
        make_judged(school=school, data=b"Instrument,Make,How acquired\nTpt,A,bought\nTpt,B,gift\nSnare kit,C,gift\n")
    )
    owed = {row.maker: row.owed for row in Instrument.objects.all()}
    assert owed == {"A": {Owed.HYGIENE}, "B": set(Owed), "C": set()}
    assert differences() == (3, [])
