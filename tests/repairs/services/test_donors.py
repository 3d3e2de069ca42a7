"""Parts instruments: they stay in, their parts go where somebody says, sets stay together."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils.translation import override

from core.exceptions import RefusedError, UsedFormError
from core.models import Event
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument, Role, Whereabouts
from inventory.services.inspecting import add_bench_findings, carry_over_inspection, close_findings
from inventory.services.state import move_instrument
from repairs.exceptions import ApprovalNeededError, MatchedPartsError, PartTakenError
from repairs.models import Job, PartsInstrument, TakenPart
from repairs.rules.matched import takeable
from repairs.selectors.donors import taken_differences
from repairs.selectors.planning import plan_for_instrument
from repairs.services.donors import (
    call_taken_parts_missing,
    mark_parts_instrument,
    unmark_parts_instrument,
)
from tests.factories import (
    NOW,
    make_director,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_school,
    make_user,
    new_nonce,
)
from tests.repairs.money_makers import (
    make_job,
    make_order,
    make_parts_instrument,
    make_stuck_instrument,
    make_taken,
    missing_at,
)

pytestmark = pytest.mark.django_db

DENT = ("bell", "dent_small", "moderate")
MISSING_BELL = ("bell", "missing_part", "severe")


def test_a_parts_instrument_stays_in_store_and_stays_in():
    parts_instrument = Instrument.objects.get(pk=make_parts_instrument().instrument_id)
    assert (parts_instrument.whereabouts, parts_instrument.readiness) == ("in_store", "stays_in")
    assert [reason["code"] for reason in parts_instrument.readiness_reasons] == ["parts_horn"]


def test_a_job_on_it_ends_with_the_reason():
    job = make_job()
    with override("es-mx"):
        make_parts_instrument(instrument=job.instrument)
    job = Job.objects.get(pk=job.pk)
    assert job.ended_because == "Kept for parts."
    assert job.instrument.whereabouts == "in_store"


def test_marking_twice_without_a_reason_or_out_of_the_house_is_refused():
    marked, free, lost, asked = (
        make_parts_instrument().instrument, make_ready_instrument(), make_ready_instrument(), make_stuck_instrument(),
    )  # fmt: skip
    move_instrument(instrument=lost, expected=Whereabouts.IN_STORE, to=Whereabouts.NOT_FOUND, actor=make_user(), at=NOW)
    make_order(instrument=asked)
    for instrument, because in ((marked, "Again"), (free, "  "), (lost, "Gone"), (asked, "Dear")):
        with pytest.raises(RefusedError):
            mark_parts_instrument(
                instrument=instrument, because=because, actor=make_director(school=instrument.school), at=NOW
            )
    assert PartsInstrument.objects.count() == 1
    assert not Instrument.objects.get(pk=free.pk).is_parts_instrument


def test_who_may_not_approve_gives_nothing_up():
    instrument = make_ready_instrument()
    for actor in (make_user(Role.TECH, school=instrument.school), make_director(school=make_school())):
        with pytest.raises(ApprovalNeededError):
            mark_parts_instrument(instrument=instrument, because="Rotten", actor=actor, at=NOW)
    assert not PartsInstrument.objects.exists()


def test_it_may_play_again_after_all():
    parts_instrument = make_parts_instrument()
    unmark_parts_instrument(
        parts_instrument=parts_instrument, because="A casing turned up", actor=parts_instrument.marked_by, at=NOW
    )
    assert Instrument.objects.get(pk=parts_instrument.instrument_id).readiness == "may_go_out"
    with pytest.raises(RefusedError, match="Somebody else has already put it back"):
        unmark_parts_instrument(
            parts_instrument=parts_instrument, because="Twice", actor=parts_instrument.marked_by, at=NOW
        )


def test_unmarking_needs_a_reason():
    parts_instrument = make_parts_instrument()
    with pytest.raises(RefusedError, match="Say why"):
        unmark_parts_instrument(parts_instrument=parts_instrument, because="", actor=parts_instrument.marked_by, at=NOW)
    assert PartsInstrument.objects.standing().exists()


def test_a_part_goes_onto_another_instrument_and_both_remember():
    parts_instrument, job = make_parts_instrument(), make_job()
    row = make_taken(parts_instrument, "bell", onto=job.instrument)[0]
    assert (row.part, row.onto, row.job) == ("bell", job.instrument, job)
    assert Event.objects.filter(thread=parts_instrument.instrument.thread, act="part_taken").exists()
    assert Event.objects.filter(thread=job.instrument.thread, act="part_put_on").exists()


def test_a_form_sent_twice_takes_once():
    parts_instrument, onto, batch = make_parts_instrument(), make_ready_instrument(), new_nonce()
    for _ in range(2):
        make_taken(parts_instrument, "bell", onto=onto, batch=batch)
    assert TakenPart.objects.count() == 1
    with pytest.raises(UsedFormError):
        make_taken(parts_instrument, "bell", onto=make_ready_instrument(), batch=batch)
    with pytest.raises(UsedFormError):
        make_taken(make_parts_instrument(), "bell", onto=onto, batch=batch)


def test_one_piston_alone_is_refused_and_the_set_goes_whole():
    parts_instrument = make_parts_instrument()
    with pytest.raises(MatchedPartsError, match="pistons stay together"):
        make_taken(parts_instrument, "piston", place="2")
    assert not TakenPart.objects.exists()
    assert len(make_taken(parts_instrument, "piston", place="2", is_set=True)) == 3
    with pytest.raises(PartTakenError, match="Already taken for"):
        make_taken(parts_instrument, "piston", is_set=True)


def test_what_is_gone_is_gone():
    parts_instrument = make_parts_instrument()
    make_taken(parts_instrument, "bell")
    with pytest.raises(PartTakenError, match=r"Already taken for .* by Person \d+ on .*: bell"):
        make_taken(parts_instrument, "bell")
    assert TakenPart.objects.count() == 1


def test_what_an_inspection_found_missing_is_not_there_to_take():
    instrument = make_ready_instrument()
    make_inspection(instrument=instrument, findings=[("piston", "missing_part", "severe", "2"), MISSING_BELL])
    parts_instrument = make_parts_instrument(instrument=Instrument.objects.get(pk=instrument.pk))
    with pytest.raises(PartTakenError, match="no longer has this: bell"):
        make_taken(parts_instrument, "bell")
    assert {row.place for row in make_taken(parts_instrument, "piston", is_set=True)} == {"1", "3"}


def put_back_in_service(parts_instrument):
    unmark_parts_instrument(
        parts_instrument=parts_instrument, because="Plays again", actor=parts_instrument.marked_by, at=NOW
    )
    return Instrument.objects.get(pk=parts_instrument.instrument_id)


def test_what_was_taken_is_missing_and_keeps_it_in_when_it_is_back_in_service():
    parts_instrument = make_parts_instrument(instrument=make_ready_instrument(kind_code="clarinet_bb"))
    onto = make_ready_instrument(kind_code="clarinet_bb")
    make_taken(parts_instrument, "mouthpiece", onto=onto)
    keys = make_taken(parts_instrument, "throat_keys", onto=onto, is_set=True)
    stripped = put_back_in_service(parts_instrument)
    assert missing_at(stripped) == {("mouthpiece", ""), *((row.part, row.place) for row in keys)}
    assert (stripped.verdict, stripped.readiness) == ("does_not_play", "stays_in")
    said = " ".join(reason["text"] for reason in stripped.readiness_reasons)
    assert "Mouthpiece, missing" in said
    plan = plan_for_instrument(stripped)
    assert any("mouthpiece" in step.say.lower() for step in plan.steps)


def test_what_is_taken_leaves_the_other_findings_of_the_instrument_as_they_were():
    instrument = make_ready_instrument()
    make_inspection(instrument=instrument, findings=[("finger_button", "missing_part", "light", "1"), DENT])
    parts_instrument = make_parts_instrument(instrument=Instrument.objects.get(pk=instrument.pk))
    make_taken(parts_instrument, "finger_button", place="2")
    assert missing_at(instrument) == {("finger_button", "1"), ("finger_button", "2")}
    assert Finding.objects.filter(instrument=instrument, part="bell").standing().count() == 1


@pytest.mark.parametrize("kind", sorted(catalog().kinds))
def test_whatever_comes_off_may_be_missing(kind):
    instrument = make_ready_instrument(kind_code=kind)
    everything = takeable(instrument.parts, roles=catalog().roles)
    fault = {"fault": "missing_part", "severity": "moderate"}
    found = [{"part": part, "places": [place], **fault} for part, place in everything]
    assert len(add_bench_findings(instrument=instrument, findings=found, actor=make_user(), at=NOW)) == len(everything)
    assert Instrument.objects.get(pk=instrument.pk).readiness == "stays_in"


def test_what_was_taken_before_it_counted_as_missing_is_found_and_recorded():
    parts_instrument = make_parts_instrument()
    make_taken(parts_instrument, "piston", is_set=True)
    make_taken(parts_instrument, "bell")
    donor = put_back_in_service(parts_instrument)
    assert list(taken_differences()) == []
    Finding.objects.filter(instrument=donor).delete()
    told = [words for _, words in taken_differences()]
    assert len(told) == 4
    assert told[-1].startswith(f"{donor.asset_number}: bell flare and rim was taken for")
    assert call_taken_parts_missing(actor=None, at=NOW) == 4
    assert list(taken_differences()) == []
    assert call_taken_parts_missing(actor=None, at=NOW) == 0
    assert Instrument.objects.get(pk=donor.pk).readiness == "stays_in"


def test_what_somebody_saw_or_replaced_since_is_there_and_a_hand_out_is_no_look():
    parts_instrument = make_parts_instrument()
    make_taken(parts_instrument, "bell")
    donor, later, tech = put_back_in_service(parts_instrument), NOW + timedelta(days=1), make_user()
    Finding.objects.filter(instrument=donor).delete()
    carry_over_inspection(instrument=donor, purpose="hand_out", actor=tech, at=later, finish=True)
    assert len(list(taken_differences())) == 1
    carry_over_inspection(instrument=donor, purpose="yearly", actor=tech, at=later, finish=True)
    assert list(taken_differences()) == []
    again = make_parts_instrument()
    make_taken(again, "bell")
    donor = put_back_in_service(again)
    ids = list(Finding.objects.filter(instrument=donor).values_list("pk", flat=True))
    close = {"instrument": donor, "finding_ids": ids, "reference": "job:1", "actor": tech, "at": later}
    close_findings(because="repaired", **close)
    assert list(taken_differences()) == []


def test_what_it_has_not_what_is_not_said_and_itself_are_refused():
    parts_instrument = make_parts_instrument()
    for part, fields in (("reed", {}), ("valve_spring", {}), ("bell", {"onto": parts_instrument.instrument})):
        with pytest.raises(RefusedError):
            make_taken(parts_instrument, part, **fields)
    assert not TakenPart.objects.exists()


def test_nothing_is_taken_off_an_instrument_that_plays_again_or_put_on_one_that_left():
    parts_instrument, gone = make_parts_instrument(), make_ready_instrument()
    move_instrument(instrument=gone, expected="in_store", to="gone", actor=make_user(), at=NOW)
    gone.refresh_from_db()
    with pytest.raises(RefusedError, match="left the district"):
        make_taken(parts_instrument, "bell", onto=gone)
    unmark_parts_instrument(
        parts_instrument=parts_instrument, because="Plays again", actor=parts_instrument.marked_by, at=NOW
    )
    with pytest.raises(RefusedError, match="back in service"):
        make_taken(parts_instrument, "bell")
    assert not TakenPart.objects.exists()


def donor_and(kind, *, of="trumpet"):
    donor = make_parts_instrument(instrument=make_ready_instrument(kind_code=of))
    return donor, make_ready_instrument(kind_code=kind)


@pytest.mark.parametrize(
    ("of", "part", "onto"),
    [("flute", "thumb_keys", "trombone"), ("flute", "thumb_keys", "snare_kit"), ("trumpet", "piston", "trombone")],
)
def test_a_part_for_which_there_is_no_place_goes_nowhere(of, part, onto):
    donor, taker = donor_and(onto, of=of)
    with pytest.raises(RefusedError, match=rf"{taker.asset_number} .* has no place for this part of .* \({of}\)"):
        make_taken(donor, part, onto=taker, is_set=True, note="It will do")
    assert not TakenPart.objects.exists()
    assert missing_at(donor.instrument) == set()


def test_a_part_for_another_kind_of_the_family_needs_a_reason():
    donor, taker = donor_and("sax_tenor", of="sax_alto")
    with pytest.raises(RefusedError, match=r"\(tenor saxophone\) is built differently from .* \(alto saxophone\)"):
        make_taken(donor, "neck_tube", onto=taker)
    row = make_taken(donor, "neck_tube", onto=taker, note="Same maker, same bore")[0]
    assert row.note == "Same maker, same bore"


def test_both_histories_name_the_part_and_the_other_instrument():
    donor, taker = donor_and("trumpet")
    make_taken(donor, "piston", onto=taker, is_set=True)
    told = {event.act: event.after for event in Event.objects.filter(act__startswith="part_")}
    assert told["part_taken"]["named"] == told["part_put_on"]["named"] == "pistons, 3 as a set"
    assert (told["part_taken"]["onto"], told["part_put_on"]["off"]) == (
        taker.asset_number, donor.instrument.asset_number,
    )  # fmt: skip


def test_taking_a_part_is_no_inspection_of_the_rest():
    seen, unseen = make_ready_instrument(), make_instrument()
    for instrument in (seen, unseen):
        parts_instrument = make_parts_instrument(instrument=Instrument.objects.get(pk=instrument.pk))
        given = {"actor": parts_instrument.marked_by, "at": NOW + timedelta(days=200)}
        make_taken(parts_instrument, "finger_button", place="2", **given)
        put_back_in_service(parts_instrument)
    now = Instrument.objects.get(pk=seen.pk)
    assert (now.inspected_at, now.ready_until) == (seen.inspected_at, seen.ready_until)
    now = Instrument.objects.get(pk=unseen.pk)
    assert (now.inspected_at, now.verdict, now.readiness) == (None, "not_inspected", "stays_in")
    assert missing_at(now) == {("finger_button", "2")}
