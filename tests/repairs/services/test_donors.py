"""Parts horns: they stay in, their parts go where somebody says, sets stay together."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError, UsedFormError
from core.models import Event
from inventory.models import Instrument, Whereabouts
from inventory.services.state import move_instrument
from repairs.exceptions import MatchedPartsError, PartTakenError
from repairs.models import Job, PartsHorn, TakenPart
from repairs.services.donors import mark_parts_horn, note_fit, take_part, unmark_parts_horn
from tests.factories import NOW, make_ready_instrument, make_user, new_nonce
from tests.repairs.money_makers import make_job, make_order, make_parts_horn, make_stuck_instrument

pytestmark = pytest.mark.django_db


def take(horn: PartsHorn, part: str, **fields):
    given = {"onto": fields.pop("onto", None) or make_ready_instrument(), "batch": new_nonce()} | fields
    return take_part(parts_horn=horn, part=part, actor=horn.marked_by, at=NOW, **given)


def test_a_parts_horn_stays_in_store_and_stays_in():
    horn = Instrument.objects.get(pk=make_parts_horn().instrument_id)
    assert (horn.whereabouts, horn.readiness) == ("in_store", "stays_in")
    assert [reason["code"] for reason in horn.readiness_reasons] == ["parts_horn"]


def test_a_job_on_it_ends_with_the_reason():
    job = make_job()
    make_parts_horn(instrument=job.instrument)
    job = Job.objects.get(pk=job.pk)
    assert job.ended_because == "Kept for parts."
    assert job.instrument.whereabouts == "in_store"


def test_marking_twice_without_a_reason_or_out_of_the_house_is_refused():
    marked, free, lost, asked = (
        make_parts_horn().instrument, make_ready_instrument(), make_ready_instrument(), make_stuck_instrument(),
    )  # fmt: skip
    move_instrument(instrument=lost, expected=Whereabouts.IN_STORE, to=Whereabouts.NOT_FOUND, actor=make_user(), at=NOW)
    make_order(instrument=asked)
    for instrument, because in ((marked, "Again"), (free, "  "), (lost, "Gone"), (asked, "Dear")):
        with pytest.raises(RefusedError):
            mark_parts_horn(instrument=instrument, because=because, actor=make_user(), at=NOW)
    assert PartsHorn.objects.count() == 1
    assert not Instrument.objects.get(pk=free.pk).is_parts_horn


def test_it_may_play_again_after_all():
    horn = make_parts_horn()
    unmark_parts_horn(parts_horn=horn, because="A casing turned up", actor=horn.marked_by, at=NOW)
    assert Instrument.objects.get(pk=horn.instrument_id).readiness == "may_go_out"
    with pytest.raises(RefusedError, match="Somebody else has already put it back"):
        unmark_parts_horn(parts_horn=horn, because="Twice", actor=horn.marked_by, at=NOW)


def test_unmarking_needs_a_reason():
    horn = make_parts_horn()
    with pytest.raises(RefusedError, match="Say why"):
        unmark_parts_horn(parts_horn=horn, because="", actor=horn.marked_by, at=NOW)
    assert PartsHorn.objects.standing().exists()


def test_a_part_goes_onto_another_horn_and_both_remember():
    horn, job = make_parts_horn(), make_job()
    row = take(horn, "bell", onto=job.instrument)[0]
    assert (row.part, row.onto, row.job) == ("bell", job.instrument, job)
    assert Event.objects.filter(thread=horn.instrument.thread, act="part_taken").exists()
    assert Event.objects.filter(thread=job.instrument.thread, act="part_put_on").exists()


def test_a_form_sent_twice_takes_once():
    horn, onto, batch = make_parts_horn(), make_ready_instrument(), new_nonce()
    for _ in range(2):
        take(horn, "bell", onto=onto, batch=batch)
    assert TakenPart.objects.count() == 1
    with pytest.raises(UsedFormError):
        take(horn, "bell", onto=make_ready_instrument(), batch=batch)
    with pytest.raises(UsedFormError):
        take(make_parts_horn(), "bell", onto=onto, batch=batch)


def test_one_piston_alone_is_refused_and_the_set_goes_whole():
    horn = make_parts_horn()
    with pytest.raises(MatchedPartsError, match="pistons stay together"):
        take(horn, "piston", place="2")
    assert not TakenPart.objects.exists()
    assert len(take(horn, "piston", place="2", is_set=True)) == 3
    with pytest.raises(PartTakenError, match="Part of the set"):
        take(horn, "piston", is_set=True)


def test_what_is_gone_is_gone():
    horn = make_parts_horn()
    take(horn, "bell")
    with pytest.raises(PartTakenError, match="already been taken"):
        take(horn, "bell")
    assert TakenPart.objects.count() == 1


def test_what_it_has_not_what_is_not_said_and_itself_are_refused():
    horn = make_parts_horn()
    for part, fields in (("reed", {}), ("valve_spring", {}), ("bell", {"onto": horn.instrument})):
        with pytest.raises(RefusedError):
            take(horn, part, **fields)
    assert not TakenPart.objects.exists()


def test_nothing_is_taken_off_a_horn_that_plays_again_or_put_on_one_that_left():
    horn, gone = make_parts_horn(), make_ready_instrument()
    move_instrument(instrument=gone, expected="in_store", to="gone", actor=make_user(), at=NOW)
    gone.refresh_from_db()
    with pytest.raises(RefusedError, match="left the district"):
        take(horn, "bell", onto=gone)
    unmark_parts_horn(parts_horn=horn, because="Plays again", actor=horn.marked_by, at=NOW)
    with pytest.raises(RefusedError, match="back in service"):
        take(horn, "bell")
    assert not TakenPart.objects.exists()


def test_whether_a_set_fits_is_said_of_all_of_it():
    horn = make_parts_horn()
    rows = take(horn, "piston", is_set=True)
    note_fit(taken=rows[0], fit="does_not", actor=horn.marked_by, at=NOW)
    assert set(TakenPart.objects.values_list("fit", flat=True)) == {"does_not"}
    with pytest.raises(RefusedError, match="whether it fits"):
        note_fit(taken=rows[0], fit="perhaps", actor=horn.marked_by, at=NOW)
