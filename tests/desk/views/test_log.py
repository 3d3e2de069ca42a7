"""One entry of the log, an instrument's whole history, and saying that an entry is wrong."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from core.models import Event
from desk.services.entered_in_error import call_entered_in_error
from inventory.models import Instrument
from inventory.services.people import set_up_district
from inventory.services.registering import change_instrument, record_donation
from tests.factories import NOW, make_director, make_instrument, make_room, make_school, make_user, new_nonce

pytestmark = pytest.mark.django_db


@pytest.fixture
def instrument(school, director):
    row = make_instrument(school=school, serial="12345", notes="<b>old</b>")
    change_instrument(
        instrument=row, actor=director, at=NOW, serial="12354", acquisition_cost_amount=Decimal(900),
        room=make_room(school=school, name="Loft"), notes="<i>new</i>",
    )  # fmt: skip
    return row


@pytest.fixture
def event(instrument):
    return Event.objects.get(act="corrected")


def entry(event):
    return reverse("desk:log-entry", args=[event.number])


def error(event):
    return reverse("desk:entered-in-error", args=[event.number])


@pytest.mark.parametrize("page", ["desk:instrument", "desk:history"])
def test_a_correction_is_told_from_and_to(client, director, instrument, page):
    client.force_login(director)
    text = client.get(reverse(page, args=[instrument.asset_number])).text
    for words in ("Serial: 12345 → 12354", "Cost: empty → $900", "Room: empty → Loft", "&lt;b&gt;old&lt;/b&gt; → "):
        assert words in text
    assert "<b>old" not in text


def test_the_auditor_sees_it_on_the_first_page_and_on_the_entry(client, event):
    client.force_login(make_user("auditor"))
    assert "Serial: 12345 → 12354" in client.get(reverse("desk:today")).text
    answer = client.get(entry(event))
    assert answer.status_code == 200
    assert "Cost" in answer.text
    assert error(event) not in answer.text
    assert client.get(error(event)).status_code == 403


def test_an_entry_that_registers_shows_every_value(client, director, instrument):
    client.force_login(director)
    told = client.get(entry(Event.objects.get(act="registered"))).context["changes"]
    assert {(change.label, change.after) for change in told} >= {
        ("Kind", "Trumpet"), ("Serial", "12345"), ("Maker", "Plain Brass Works"), ("Acquired by", "Bought"),
        ("School", str(instrument.school)), ("Notes", "<b>old</b>"), ("Asset number", instrument.asset_number),
    }  # fmt: skip
    assert {change.before for change in told} == {None}


def test_another_schools_entry_does_not_exist(client, event):
    client.force_login(make_director())
    for address in (entry(event), error(event), reverse("desk:history", args=[Instrument.objects.get().asset_number])):
        assert client.get(address).status_code == 404
    assert client.post(error(event), {"because": "mine now", "nonce": new_nonce()}).status_code == 404
    assert not Event.objects.filter(act="entered_in_error").exists()


@pytest.mark.parametrize("number", ["0", "999999", "9" * 18, "9" * 40])
def test_an_entry_that_is_not_there_does_not_exist(client, director, number):
    client.force_login(director)
    assert client.get(f"/log/{number}/").status_code == 404


def test_entries_go_with_the_instrument_to_its_new_school(client, director, instrument, event):
    other = make_school()
    change_instrument(instrument=instrument, actor=director, at=NOW, school=other, room=None)
    client.force_login(director)
    assert client.get(entry(event)).status_code == 404
    client.force_login(make_director(school=other))
    assert client.get(entry(event)).status_code == 200


def test_the_districts_own_entries_are_for_who_has_the_whole_district(client, director):
    administrator = make_user("administrator")
    set_up_district(actor=administrator, at=NOW, name="New name")
    event = Event.objects.get(act="district_changed")
    client.force_login(director)
    assert client.get(entry(event)).status_code == 404
    client.force_login(administrator)
    assert client.get(entry(event)).status_code == 200
    assert client.post(error(event), {"because": "typo", "nonce": new_nonce()}).status_code == 302
    assert "typo" in client.get(entry(event)).text


def test_marking_says_what_it_does_not_do_and_leads_to_where_that_is_done(client, director, instrument, event):
    client.force_login(director)
    text = client.get(error(event)).text
    assert "changes nothing else" in text
    assert reverse("inventory:edit", args=[instrument.asset_number]) in text
    refused = client.post(error(event), {"because": "", "nonce": new_nonce()})
    assert refused.status_code == 422
    said = {"because": "read off <another> case", "nonce": new_nonce()}
    for _ in range(2):  # the same form posted twice counts once
        answer = client.post(error(event), said, follow=True)
        assert answer.redirect_chain[-1][0] == entry(event)
    assert "read off &lt;another&gt; case" in answer.text
    assert error(event) not in answer.text
    assert client.post(error(event), said | {"nonce": new_nonce()}).status_code == 422
    assert Event.objects.filter(act="entered_in_error").count() == 1
    page = client.get(reverse("desk:instrument", args=[instrument.asset_number])).text
    assert "<s>Corrected</s>" in page
    assert "Entered in error: read off &lt;another&gt; case" in page
    strike = client.get(entry(Event.objects.get(act="entered_in_error")))
    assert entry(event) in strike.text
    assert "read off" in strike.text


def test_a_tech_marks_only_what_the_tech_did(client, tech, event, instrument):
    client.force_login(tech)
    assert error(event) not in client.get(entry(event)).text
    assert client.get(error(event)).status_code == 403
    own = Event.objects.filter(act="tag_issued").get()
    assert client.get(error(own)).status_code == 403  # nobody's own: the program's, or another's


def test_a_donor_is_named_only_to_who_may_know(client, director, tech, instrument):
    for name in ("Gale Giver", "Gail Giver"):
        record_donation(instrument=instrument, donor_name=name, received_on=date(2026, 9, 1), actor=director, at=NOW)
    event = Event.objects.get(act="gift_corrected")
    pages = (reverse("desk:instrument", args=[instrument.asset_number]), entry(event))
    client.force_login(director)
    assert all("Gale Giver" in client.get(page).text for page in pages)
    client.force_login(tech)
    for page in pages:
        answer = client.get(page)
        assert "Gift record corrected" in answer.text
        assert "Giver" not in answer.text


def test_the_history_is_read_a_page_at_a_time_and_costs_the_same(
    client, director, instrument, django_assert_max_num_queries
):
    for number in range(60):
        change_instrument(
            instrument=instrument,
            actor=director,
            at=NOW + timedelta(minutes=number),
            serial=str(number),
            year_made=1950 + number,
        )
    client.force_login(director)
    address = reverse("desk:history", args=[instrument.asset_number])
    with django_assert_max_num_queries(12):
        first = client.get(address)
    assert len(first.context["history"]) == 50
    assert client.get(address, {"page": 2}).text.count("Registered") == 1
    assert client.get(address, {"page": "none"}).status_code == 200


def test_a_strike_is_shown_wherever_the_entry_is(client, director, event):
    call_entered_in_error(event=event, because="wrong horn", actor=director, at=NOW)
    client.force_login(make_user("auditor"))
    text = client.get(reverse("desk:today")).text
    assert "<s>Corrected</s>" in text
    assert "Entered in error: wrong horn" in text
