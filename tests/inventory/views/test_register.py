from __future__ import annotations

import io
import uuid
from datetime import date, timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook
from PIL import Image

from inventory.models import Donation, Instrument, Photo, Role, Whereabouts
from tests.factories import (
    make_instrument,
    make_ready_instrument,
    make_room,
    make_school,
    make_user,
)

pytestmark = pytest.mark.django_db
LIST = reverse("inventory:list")
ADD = reverse("inventory:add")
ODD = "“quoted” <b>bold</b> \u202eright to left"


def queries_of(client, address=LIST):
    with CaptureQueriesContext(connection) as context:
        assert client.get(address).status_code == 200
    return len(context)


def picture():
    file = BytesIO()
    Image.new("RGB", (40, 30), "tan").save(file, "JPEG")
    return SimpleUploadedFile("photo.jpg", file.getvalue(), "image/jpeg")


def filled(**typed):
    return {"kind": "trumpet", "once": str(uuid.uuid4()), "maker": "Plain", "serial": "9"} | typed


def test_the_list_hides_other_schools(client, director, school):
    ours, theirs = make_instrument(school=school), make_instrument(school=make_school())
    client.force_login(director)
    page = client.get(LIST).text
    assert ours.asset_number in page
    assert theirs.asset_number not in page


def test_the_list_costs_the_same_for_one_row_and_for_forty(client, administrator, school):
    client.force_login(administrator)
    make_ready_instrument(school=school, room=make_room(school=school))
    cost = queries_of(client)
    for _ in range(39):
        make_instrument(school=make_school(), kind_code="tuba", room=None)
    assert queries_of(client) == cost <= 12


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("?q=tuba", "T-1"),
        ("?q=zzz-77", "T-1"),
        ("?kind=trumpet", "T-2"),
        ("?readiness=ready", "T-2"),
        ("?readiness=may_go_out", "T-2"),
        ("?readiness=stays_in&kind=tuba", "T-1"),
        ("?use=retired", "T-4"),
        ("?verdict=not_inspected&whereabouts=in_store&kind=tuba", "T-1"),
        ("?whereabouts=gone", "T-3"),
    ],
)
def test_a_filter_leaves_what_fits(client, director, school, query, shown):
    make_instrument(school=school, asset_number="T-1", kind_code="tuba", serial="ZZZ-77")
    make_ready_instrument(school=school, asset_number="T-2")
    make_instrument(school=school, asset_number="T-3", kind_code="flute")
    Instrument.objects.filter(asset_number="T-2").update(ready_until=None)
    make_instrument(school=school, asset_number="T-4", kind_code="oboe")
    Instrument.objects.filter(asset_number="T-3").update(whereabouts=Whereabouts.GONE)
    Instrument.objects.filter(asset_number="T-4").update(is_retired=True)
    client.force_login(director)
    page = client.get(LIST + query).text
    assert [number for number in ("T-1", "T-2", "T-3", "T-4") if f"/i/{number}/" in page] == [shown]


@pytest.mark.parametrize(
    "query", ["?kind=kazoo", "?school=999", "?school=x", "?page=99", "?page=x", "?sort=nothing", "?readiness=never"]
)
def test_an_old_or_broken_address_still_shows_a_list(client, director, school, query):
    instrument = make_instrument(school=school)
    client.force_login(director)
    answer = client.get(LIST + query)
    assert answer.status_code == 200
    assert instrument.asset_number in answer.text


def test_an_inspection_that_aged_out_is_not_counted_as_ready(client, director, school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(ready_until=date(2000, 1, 1))
    client.force_login(director)
    assert f"/i/{instrument.asset_number}/" not in client.get(f"{LIST}?readiness=ready").text
    assert f"/i/{instrument.asset_number}/" in client.get(f"{LIST}?readiness=stays_in").text


def test_a_filter_by_script_gets_the_list_alone_with_its_count(client, director, school):
    make_instrument(school=school)
    client.force_login(director)
    page = client.get(LIST, headers={"HX-Request": "true"}).text
    assert "<html" not in page
    assert "1 instrument" in page
    assert "data-announce" in page


def test_one_school_is_not_asked_for(client, director, auditor, school):
    make_school()
    client.force_login(director)
    assert 'name="school"' not in client.get(LIST).text
    client.force_login(auditor)
    assert 'name="school"' in client.get(LIST).text


def test_nothing_yet_says_what_to_do(client, director):
    client.force_login(director)
    page = client.get(LIST).text
    assert reverse("inventory:add") in page
    assert reverse("inventory:import") in page


def test_the_file_holds_what_the_list_shows_and_runs_no_formula(client, director, school):
    make_instrument(school=school, maker="=1+1", notes="@cmd", kind_code="tuba", asset_number="E-1")
    make_instrument(school=school, kind_code="flute")
    client.force_login(director)
    text = client.get(reverse("inventory:export", args=["csv"]) + "?kind=tuba").getvalue().decode("utf-8-sig")
    assert text.count("\n") == 2
    assert "'=1+1" in text
    book = load_workbook(io.BytesIO(client.get(reverse("inventory:export", args=["xlsx"])).getvalue()))
    cells = {cell.value: cell for row in book.active.iter_rows() for cell in row}
    assert cells["=1+1"].data_type == "s"
    assert client.get(reverse("inventory:export", args=["pdf"])).status_code == 404


def test_one_is_added_with_the_next_number(client, director, school):
    client.force_login(director)
    answer = client.post(ADD, filled(room=make_room(school=school).pk, **{"option-third_slide": "trigger"}))
    instrument = Instrument.objects.get()
    assert answer.headers["Location"] == reverse("desk:instrument", args=[instrument.asset_number])
    assert (instrument.asset_number, instrument.maker, instrument.serial) == ("TD-0001", "Plain", "9")
    assert instrument.options == {"third_slide": "trigger"}
    assert instrument.school == school


def test_without_script_the_typed_words_name_the_kind(client, director):
    client.force_login(director)
    client.post(ADD, filled(kind="trumpet", find="bari sax"))
    assert Instrument.objects.get().kind_code == "sax_baritone"


def test_the_tapped_kind_wins_over_the_words_that_led_to_it(client, director):
    client.force_login(director)
    client.post(ADD, filled(kind="clarinet_bass", find="clar"))
    assert Instrument.objects.get().kind_code == "clarinet_bass"


def test_another_begins_with_what_stays_the_same(client, director, school):
    room = make_room(school=school)
    client.force_login(director)
    answer = client.post(ADD, filled(room=room.pk, acquired_by="gift", then="another"), follow=True)
    form = answer.context["form"]
    assert answer.context["chosen"].code == "trumpet"
    assert str(form["room"].value()) == str(room.pk)
    assert form["acquired_by"].value() == "gift"
    assert not form["serial"].value()


def test_a_form_sent_twice_adds_one(client, director):
    client.force_login(director)
    typed = filled(serial="")
    for _ in range(2):
        assert client.post(ADD, typed).status_code == 302
    assert Instrument.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"serial": "77"}, "already registered"),
        ({"asset_number": "x-1"}, "X-1 is taken"),
        ({"kind": "", "find": "kazoo"}, "is not a kind we know"),
        ({"kind": ""}, "Choose the kind first"),
        ({"year_made": "1066"}, "greater than or equal to 1700"),
        ({"maker": "x" * 10_000}, "at most 80 characters"),
        ({"option-third_slide": "rope"}, "not one of the available choices"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_a_refusal_keeps_what_was_typed(client, director, school, typed, says):
    make_instrument(school=school, asset_number="X-1", maker="Plain", serial="77")
    client.force_login(director)
    answer = client.post(ADD, filled(model=ODD, **typed))
    assert answer.status_code == 422
    assert says in answer.text
    assert Instrument.objects.count() == 1
    assert answer.context["form"]["model"].value() == ODD
    assert "<b>bold" not in answer.text


def test_a_room_of_another_school_cannot_be_named(client, director):
    client.force_login(director)
    assert client.post(ADD, filled(room=make_room().pk)).status_code == 422
    assert not Instrument.objects.exists()


def test_a_room_is_named_while_adding_and_while_correcting(client, director, school):
    client.force_login(director)
    client.post(ADD, filled(new_room="Theater  loft"))
    instrument = Instrument.objects.get()
    assert (instrument.room.name, instrument.room.school) == ("Theater loft", school)
    client.post(reverse("inventory:edit", args=[instrument.asset_number]), {"maker": "P", "new_room": "Cabinet 3"})
    assert Instrument.objects.get().room.name == "Cabinet 3"


def test_a_photo_is_kept_and_what_is_none_is_refused_before_anything_is_written(client, director):
    client.force_login(director)
    answer = client.post(ADD, filled(photo=SimpleUploadedFile("photo.jpg", b"%PDF-1.7 no picture")))
    assert answer.status_code == 422
    assert not Instrument.objects.exists()
    client.post(ADD, filled(photo=picture()))
    assert Photo.objects.get().instrument == Instrument.objects.get()


def test_the_kinds_part_follows_what_is_typed(client, director):
    client.force_login(director)
    page = client.get(reverse("inventory:kind"), {"find": "euph"}).text
    assert 'value="euphonium" checked' in page
    assert "option-valves" in page
    assert "No kind starts like that" in client.get(reverse("inventory:kind"), {"find": "kazoo"}).text


def test_without_a_school_the_first_school_comes_first(client):
    client.force_login(make_user(Role.ADMINISTRATOR))
    assert client.get(ADD).headers["Location"] == reverse("inventory:schools")


def test_a_correction_is_saved_and_keeps_number_and_kind(client, director, school):
    instrument = make_instrument(school=school, maker="Plane", options={"third_slide": "none"})
    client.force_login(director)
    address = reverse("inventory:edit", args=[instrument.asset_number.lower()])
    assert client.get(address).context["form"]["maker"].value() == "Plane"
    client.post(address, {"maker": "Plain", "serial": "1", "asset_number": "HACK", "option-third_slide": "ring"})
    changed = Instrument.objects.get()
    assert (changed.maker, changed.asset_number) == ("Plain", instrument.asset_number)
    assert changed.options == {"third_slide": "ring"}


def test_a_lost_kind_is_listed_and_corrected_without_losing_its_options(client, director, school):
    instrument, other = make_instrument(school=school), make_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(kind_code="horn_alto", options={"key": "Eb"})
    client.force_login(director)
    listed = client.get(LIST + "?kind=horn_alto").text
    assert f"/i/{instrument.asset_number}/" in listed
    assert f"/i/{other.asset_number}/" not in listed
    address = reverse("inventory:edit", args=[instrument.asset_number])
    assert "They stay as they are: key Eb." in " ".join(client.get(address).text.split())
    client.post(address, {"maker": "Plain"})
    instrument.refresh_from_db()
    assert (instrument.maker, instrument.options) == ("Plain", {"key": "Eb"})


def test_a_correction_to_a_taken_serial_keeps_what_was_typed(client, director, school):
    make_instrument(school=school, maker="Plain", serial="1")
    instrument = make_instrument(school=school, maker="Plain", serial="2")
    client.force_login(director)
    answer = client.post(reverse("inventory:edit", args=[instrument.asset_number]), {"maker": "Plain", "serial": "1"})
    assert answer.status_code == 422
    assert answer.context["form"]["serial"].value() == "1"


def test_an_edit_moves_it_to_no_other_school_but_leads_to_where_that_is_offered(client, school, administrator):
    """Common practice, no source: the school that gets it agrees to it, whoever may edit at both."""
    other = make_school()
    instrument = make_instrument(school=school)
    client.force_login(administrator)
    address = reverse("inventory:edit", args=[instrument.asset_number])
    page = client.get(address)
    assert "school" not in page.context["form"].fields
    assert reverse("desk:offer", args=[instrument.asset_number]) in page.text
    client.post(address, {"maker": "P", "school": other.pk})
    saved = Instrument.objects.get()
    assert (saved.maker, saved.school) == ("P", school)


def test_a_gift_record_is_kept_and_a_signed_form_warns(client, director, school):
    instrument = make_instrument(school=school)
    client.force_login(director)
    address = reverse("inventory:donation", args=[instrument.asset_number])
    today = date(2026, 9, 14)
    typed = {"donor_name": ODD, "received_on": today - timedelta(days=9), "tax_form_signed_on": today}
    assert client.post(address, typed).status_code == 302
    assert Donation.objects.get().donor_name == ODD
    page = client.get(address).text
    assert "within three years" in page
    assert "<b>bold" not in page
    assert ODD not in client.get(reverse("desk:instrument", args=[instrument.asset_number])).text


@pytest.mark.parametrize(("came", "leads_to"), [("gift", "inventory:donation"), ("bought", "desk:instrument")])
def test_a_new_gift_leads_on_to_its_record(client, director, school, came, leads_to):
    client.force_login(director)
    typed = {"kind": "trumpet", "school": school.pk, "acquired_by": came}
    answer = client.post(reverse("inventory:add"), typed)
    assert answer.headers["Location"] == reverse(leads_to, args=[Instrument.objects.get().asset_number])


def test_a_gift_leads_to_its_record_until_that_is_written_and_only_who_may_write_it(client, director, tech, school):
    client.force_login(tech)
    client.post(reverse("inventory:add"), {"kind": "trumpet", "school": school.pk, "acquired_by": "gift"})
    instrument = Instrument.objects.get()
    page, edit = (
        reverse("desk:instrument", args=[instrument.asset_number]),
        reverse("inventory:edit", args=[instrument.asset_number]),
    )
    client.force_login(director)
    assert client.post(edit, {"acquired_by": "gift"}).headers["Location"].endswith("/gift/")
    Donation.objects.create(instrument=instrument, donor_name="A Giver", received_on=date(2026, 9, 1))
    assert client.post(edit, {"acquired_by": "gift"}).headers["Location"] == page


def test_a_tech_writes_the_record_of_a_gift_once_and_reads_no_donor(client, tech, school):
    client.force_login(tech)
    typed = {"kind": "trumpet", "school": school.pk, "acquired_by": "gift"}
    answer = client.post(reverse("inventory:add"), typed)
    number = Instrument.objects.get().asset_number
    record, page = reverse("inventory:donation", args=[number]), reverse("desk:instrument", args=[number])
    assert answer.headers["Location"] == record
    gift = {"donor_name": "A Giver", "received_on": "2026-09-01"}
    form = client.get(record).context["form"]
    assert (form["donor_name"].value(), form["received_on"].value()) == (None, timezone.localdate())
    assert client.post(record, gift).headers["Location"] == page
    assert Donation.objects.get().donor_name == "A Giver"
    assert client.get(record).status_code == 403
    assert client.post(record, gift | {"donor_name": "Another"}).status_code == 403
    assert Donation.objects.get().donor_name == "A Giver"


def test_a_tech_opens_no_gift_record_of_what_is_no_gift(client, tech, school):
    client.force_login(tech)
    instrument = make_instrument(school=school)
    assert client.get(reverse("inventory:donation", args=[instrument.asset_number])).status_code == 403


def test_a_tech_registers_at_their_own_school_only(client, tech, school):
    client.force_login(tech)
    typed = {"kind": "trumpet", "school": school.pk, "acquired_by": "gift"}
    client.post(reverse("inventory:add"), typed)
    client.post(reverse("inventory:add"), typed | {"school": make_school().pk})
    assert set(Instrument.objects.values_list("school", flat=True)) == {school.pk}


def test_a_tech_without_instruments_is_offered_to_add_one_but_no_import(client, tech, school):
    client.force_login(tech)
    acts = client.get(reverse("inventory:list")).context["empty"]["acts"]
    assert [act["url"] for act in acts] == [reverse("inventory:add")]


def test_an_auditor_reads_a_gift_record_but_cannot_write_it(client, auditor, director, school):
    instrument = make_instrument(school=school)
    address = reverse("inventory:donation", args=[instrument.asset_number])
    typed = {"donor_name": "A Giver", "received_on": "2026-09-01"}
    client.force_login(auditor)
    assert client.get(address).status_code == 200
    assert client.post(address, typed).status_code == 403
    assert not Donation.objects.exists()


def test_thanks_before_the_gift_are_refused(client, director, school):
    instrument = make_instrument(school=school)
    client.force_login(director)
    typed = {"donor_name": "A Giver", "received_on": "2026-09-01", "thanked_on": "2026-08-01"}
    answer = client.post(reverse("inventory:donation", args=[instrument.asset_number]), typed)
    assert answer.status_code == 422
    assert "before it was received" in answer.text
