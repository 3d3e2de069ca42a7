from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from inventory.models import Finding, Inspection, Purpose
from inventory.services.inspecting import (
    answer_safety,
    carry_over_inspection,
    finish_inspection,
    look_at_rest,
    start_inspection,
)
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument, make_user
from tests.pictures import jpeg

SCRIPT = {"HTTP_ACCEPT": "application/json"}


@pytest.fixture
def instrument(school):
    return make_instrument(school=school)


@pytest.fixture
def draft(instrument, tech):
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)
    answer_safety(inspection=draft, is_safe=True, actor=tech, at=NOW)
    return draft


@pytest.fixture(autouse=True)
def logged_in(client, tech):
    client.force_login(tech)


def url(name: str, *args: object) -> str:
    return reverse(f"inventory:{name}", args=args)


def finding(**overrides):
    return {"part": "piston", "fault": "valve_sluggish", "severity": "moderate", "place": ["2"]} | overrides


def begin(client, instrument, **said):
    return client.post(url("inspect", instrument.asset_number), {"is_safe": "1"} | said)


def test_a_new_instrument_is_asked_at_once_whether_it_is_safe_and_nothing_begins_by_looking(client, instrument):
    page = client.get(url("inspect", instrument.asset_number))
    assert "Safe to handle?" in page.text
    assert 'name="purpose" value="intake"' in page.text
    for purpose in Purpose.values:
        client.get(url("inspect", instrument.asset_number), {"purpose": purpose})
    assert not Inspection.objects.exists()


def test_the_first_answer_begins_the_walk_once(client, instrument):
    answer = begin(client, instrument, purpose="intake")
    walk = Inspection.objects.get()
    assert (walk.purpose, walk.is_safe) == (Purpose.INTAKE, True)
    assert answer.headers["Location"] == url("walk", walk.pk)
    begin(client, instrument, purpose="intake")
    again = client.get(url("inspect", instrument.asset_number))
    assert again.headers["Location"] == url("walk", walk.pk)
    assert Inspection.objects.count() == 1


def test_what_began_on_a_phone_begins_once_and_its_answers_follow(client, instrument):
    key = {"key": str(uuid4())}
    first, again = (begin(client, instrument, purpose="intake", is_safe="", **key) for _ in range(2))
    walk = Inspection.objects.get()
    assert first.url == again.url == url("walk", walk.pk)
    assert walk.is_safe is None, "the answer is a tap of its own"
    finish_inspection_of(client, walk)
    assert begin(client, instrument, purpose="intake", **key).url == url("walk", walk.pk)
    assert Inspection.objects.get() == walk, "also when it arrives late once more"


def finish_inspection_of(client, walk) -> None:
    for name, said in (("walk-safety", {"is_safe": "1"}), ("walk-rest-fine", {}), ("walk-finish", {})):
        assert client.post(url(name, walk.pk), said, **SCRIPT).status_code == 200


def test_the_walk_of_a_build_holds_nothing_of_the_instrument_it_is_named_after(client, instrument, draft):
    page = client.get(url("walk-like", instrument.asset_number)).text
    assert page.count("data-number=") == len(instrument.parts)
    assert f"/walk/{draft.pk}/" not in page
    assert "/walk/0/fine/" in page
    assert "data-number-here" in page


def test_not_safe_begins_the_walk_and_asks_what_it_is(client, instrument):
    answer = begin(client, instrument, purpose="intake", is_safe="0")
    walk = Inspection.objects.get()
    assert walk.is_safe is None
    assert answer.headers["Location"] == f"{url('walk', walk.pk)}?at=safety&unsafe=1"
    assert 'data-open="unsafe"' in client.get(answer.headers["Location"]).text


def test_an_answer_to_no_known_walk_begins_none(client, instrument):
    answer = begin(client, instrument, purpose="<script>")
    assert answer.headers["Location"] == url("inspect", instrument.asset_number)
    assert not Inspection.objects.exists()


def test_several_walks_that_make_sense_are_offered(client, school):
    ready = make_ready_instrument(school=school)
    page = client.get(url("inspect", ready.asset_number)).text
    assert "Spot check" in page
    assert "Yearly" in page
    assert Inspection.objects.drafts().count() == 0


def test_an_unknown_purpose_is_a_choice_not_a_walk(client, school):
    ready = make_ready_instrument(school=school)
    assert client.get(url("inspect", ready.asset_number) + "?purpose=<script>").status_code == 200
    assert Inspection.objects.drafts().count() == 0


def test_a_hand_out_walk_is_filled_from_what_is_known(client, school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    begin(client, instrument, purpose="hand_out")
    walk = Inspection.objects.get(purpose=Purpose.HAND_OUT)
    assert walk.findings.get().fault == "dent_small"
    assert walk.is_safe is True


def test_a_suspect_is_reached_directly(client, school):
    ready = make_ready_instrument(school=school)
    asked = client.get(url("inspect", ready.asset_number) + "?purpose=spot&part=piston").text
    assert 'name="part" value="piston"' in asked
    assert begin(client, ready, purpose="spot", part="piston").headers["Location"].endswith("/part/piston/")
    answer = client.get(url("inspect", ready.asset_number) + "?purpose=spot&part=bell")  # of the walk that is begun
    assert answer.headers["Location"].endswith("/part/bell/")


def test_a_return_walk_shows_what_was_noted_at_hand_out(client, school, tech):
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    now = timezone.now()
    carry_over_inspection(instrument=instrument, purpose=Purpose.HAND_OUT, actor=tech, at=now, finish=True)
    begin(client, instrument, purpose="return")
    walk = Inspection.objects.get(purpose=Purpose.RETURN)
    page = client.get(url("walk-part", walk.pk, "bell")).text
    assert walk.compared_with is not None
    assert "At hand-out" in page
    assert "no findings here" in page


def test_a_tap_answers_a_form_with_a_redirect_and_a_script_with_json(client, draft):
    assert client.post(url("walk-finding", draft.pk), finding()).status_code == 302
    answer = client.post(url("walk-fine", draft.pk), {"part": "bell"}, **SCRIPT)
    assert answer.json()["ok"] is True
    assert draft.findings.get().place == "2"
    assert draft.looks.get().part == "bell"


def test_the_same_tap_sent_twice_counts_once(client, draft):
    tap = finding(key=str(uuid4()))
    client.post(url("walk-finding", draft.pk), tap, **SCRIPT)
    client.post(url("walk-take-back", draft.pk), {"part": "piston", "place": "2", "fault": "valve_sluggish"}, **SCRIPT)
    assert client.post(url("walk-finding", draft.pk), tap, **SCRIPT).json()["ok"] is True
    assert not draft.findings.exists()


def test_several_pads_are_entered_in_one_tap(client, school, tech):
    clarinet = make_instrument(school=school, kind_code="clarinet_bb")
    draft = start_inspection(instrument=clarinet, purpose=Purpose.SPOT, actor=tech, at=NOW)
    part = next(part for part in clarinet.parts if len(part.places) > 2 and part.role == "pad")
    places = [place.code for place in part.places[:3]]
    client.post(
        url("walk-finding", draft.pk),
        {"part": part.code, "fault": "pad_leak", "severity": "light", "place": places},
    )
    assert set(draft.findings.values_list("place", flat=True)) == set(places)


@pytest.mark.parametrize(
    ("tap", "says"),
    [
        (finding(fault="pad_leak"), "does not fit"),
        (finding(part="no_such_part"), "no part called"),
        (finding(place=["9"]), "no place called"),
        (finding(severity=""), "light, moderate or severe"),
        (finding(note="x" * 10_001), "longer than 10,000"),
        (finding(key="not-a-key"), "UUID"),
    ],
)
def test_a_refused_tap_says_why_and_writes_nothing(client, draft, tap, says):
    answer = client.post(url("walk-finding", draft.pk), tap, **SCRIPT)
    assert answer.status_code == 422
    assert says in answer.json()["refused"]
    page = client.post(url("walk-finding", draft.pk), tap)
    assert page.status_code == 422
    assert says in page.text
    assert not draft.findings.exists()


def test_still_there_from_a_page_without_the_note_keeps_the_note_from_before(client, instrument, tech):
    before = make_inspection(instrument=instrument, findings=[("piston", "valve_sluggish", "moderate", "2")])
    Finding.objects.filter(inspection=before).update(note="Worse when cold")
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)
    page = client.get(url("walk-part", draft.pk, "piston")).text
    assert 'name="note" value="Worse when cold"' in page
    held = client.get(url("walk-part", draft.pk, "piston"), HTTP_X_HELD="1").text
    assert "Worse when cold" not in held
    assert 'type="hidden" name="note"' not in held
    client.post(url("walk-finding", draft.pk), finding())
    assert draft.findings.get().note == "Worse when cold"
    client.post(url("walk-finding", draft.pk), finding(note=""))
    assert draft.findings.get().note == ""


def test_a_note_is_shown_as_text_never_as_markup(client, draft):
    note = '<script>alert("x")</script> \u202emirrored " quotes'
    client.post(url("walk-finding", draft.pk), finding(note=note))
    page = client.get(url("walk-part", draft.pk, "piston")).text
    assert draft.findings.get().note == note
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_a_finished_walk_takes_nothing_more_and_says_so(client, draft, tech):
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    finish_inspection(inspection=draft, actor=tech, at=NOW)
    answer = client.post(url("walk-finding", draft.pk), finding(), **SCRIPT)
    assert answer.status_code == 409
    page = client.post(url("walk-finding", draft.pk), finding())
    assert page.status_code == 409
    assert "already finished" in page.text
    assert not draft.findings.exists()


def test_a_finish_sent_twice_under_one_key_is_done_once(client, draft, tech):
    look_at_rest(inspection=draft, actor=tech, at=NOW)
    tap = {"key": str(uuid4())}
    first = client.post(url("walk-finish", draft.pk), tap, **SCRIPT)
    again = client.post(url("walk-finish", draft.pk), tap, **SCRIPT)
    assert first.json() == again.json() == {"ok": True, "url": url("walk", draft.pk)}


def test_not_safe_ends_the_walk_and_holds_it_apart(client, instrument, tech):
    draft = start_inspection(instrument=instrument, purpose=Purpose.SPOT, actor=tech, at=NOW)
    refused = client.post(url("walk-safety", draft.pk), {"is_safe": "0"}, **SCRIPT)
    assert refused.status_code == 422
    client.post(url("walk-safety", draft.pk), {"is_safe": "0", "because": "mold", "more": "green"})
    page = client.get(url("walk", draft.pk)).text
    assert "Does not play" in page
    assert "Stays in" in page
    assert draft.findings.get().note == "Mold or strong smell: green"


def test_everything_there_is_one_tap_and_counts_are_kept(client, draft, instrument):
    client.post(url("walk-accessories", draft.pk), {"all": "1"})
    counts = Inspection.objects.get(pk=draft.pk).accessory_counts
    assert counts == {row.code: row.expected for row in instrument.accessories.all()}
    client.post(url("walk-accessories", draft.pk), {"count-case": "0"})
    assert Inspection.objects.get(pk=draft.pk).accessory_counts["case"] == 0
    assert client.post(url("walk-accessories", draft.pk), {"count-case": "-1"}, **SCRIPT).status_code == 422


def test_a_photo_is_kept_with_its_part_and_no_pdf_passes_for_one(client, draft):
    good = SimpleUploadedFile("bell.jpg", jpeg())
    assert client.post(url("walk-photo", draft.pk), {"part": "bell", "photo": good}).status_code == 302
    assert draft.photos.get().part == "bell"
    paper = SimpleUploadedFile("bell.jpg", b"%PDF-1.7 not a picture %%EOF")
    answer = client.post(url("walk-photo", draft.pk), {"part": "bell", "photo": paper}, **SCRIPT)
    assert answer.status_code == 422
    assert "PDF" in answer.json()["refused"]


def test_a_finding_with_a_bad_photo_is_not_half_kept(client, draft):
    paper = SimpleUploadedFile("bell.jpg", b"no picture at all")
    answer = client.post(url("walk-finding", draft.pk), finding(photo=paper), **SCRIPT)
    assert answer.status_code == 422
    assert not draft.findings.exists()


def test_an_unknown_part_has_no_page(client, draft):
    assert client.get(url("walk-part", draft.pk, "reed")).status_code == 404


def test_giving_up_asks_first(client, draft):
    assert "Discard this inspection?" in client.get(url("walk-drop", draft.pk)).text
    assert client.post(url("walk-drop", draft.pk)).status_code == 302
    assert Inspection.objects.get(pk=draft.pk).dropped_at is not None


def test_an_older_walk_shows_what_was_found_then(client, instrument, tech):
    first = make_inspection(instrument=instrument, findings=[("bell", "dent_small", "light")], actor=tech)
    make_inspection(instrument=instrument, actor=tech, at=NOW + timedelta(days=1), purpose=Purpose.YEARLY)
    page = client.get(url("walk", first.pk)).text
    assert "Found then" in page
    assert "dent or ding" in page


def test_who_inspects_at_one_school_only_reads_at_another(client, school, instrument):
    """A tech here who is an auditor everywhere sees the other school's instruments but does not walk over them."""
    from inventory.models import Role, StaffRole
    from tests.factories import make_school

    user = make_user(Role.TECH, school=make_school())
    StaffRole.objects.create(user=user, role=Role.AUDITOR)
    client.force_login(user)
    assert client.get(url("inspect", instrument.asset_number)).status_code == 404


def test_the_walk_costs_the_same_queries_with_one_finding_and_with_ten(client, draft, django_assert_max_num_queries):
    for part in ("piston", "valve_casing", "bell"):
        fault = {"bell": "dent_small"}.get(part, "valve_stuck")
        client.post(url("walk-finding", draft.pk), finding(part=part, fault=fault, place=[]))
    with django_assert_max_num_queries(15):
        client.get(url("walk", draft.pk))
