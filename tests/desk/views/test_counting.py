"""A physical count over HTTP. Common practice, no source."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from core.models import Event
from inventory.models import Count, Instrument, Sighting
from inventory.services.counts import open_count
from tests.factories import NOW, PASSWORD, make_instrument, make_room, make_school
from tests.inventory.count_makers import make_count, see

HTMX = {"HX-Request": "true"}


@pytest.fixture(autouse=True)
def at_noon(monkeypatch):
    """The pages read the clock; the rows of these tests were made on NOW."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(hours=1))


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


@pytest.fixture
def room(school):
    return make_room(school=school, name="Band room")


@pytest.fixture
def horns(school, room):
    return [make_instrument(school=school, room=room, asset_number=f"TV-{n}") for n in (19, 20)]


def url(name, count, *more):
    return reverse(f"desk:{name}", args=[count.pk, *more])


def test_a_count_is_opened_counted_settled_by_two_and_taken_along(desk, room, horns, tech):
    assert "never counted" in desk.get(reverse("desk:counts")).text
    opened = desk.post(reverse("desk:count-open"), {"is_blind": ""})
    count = Count.objects.get()
    assert opened.url == url("count", count)
    page = desk.post(opened.url, {"text": "tv19", "room": room.pk}, headers=HTMX).text
    assert "TV-19: Found" in page
    assert "1/2" in page
    again = desk.post(opened.url, {"text": "TV-19", "room": room.pk}, headers=HTMX)
    assert (again.status_code, "already counted by Dana Director" in again.text) == (422, True)
    assert desk.post(url("count-act", count), {"act": "end"}, follow=True).text.count("TV-20")
    page = desk.get(url("count-settle", count)).text
    assert "Not found" in page
    line = f"line:{count.lines.get(instrument=horns[1]).pk}"
    form = {f"reason-{line}": "missing", f"note-{line}": "=asked", "second": tech.pk}
    wrong = desk.post(url("count-settle", count), form | {"password": "wrong"})
    assert (wrong.status_code, "not the password of Terry Tech" in wrong.text) == (422, True)
    assert Instrument.objects.get(pk=horns[1].pk).whereabouts == "in_store"
    page = desk.post(url("count-settle", count), form | {"password": PASSWORD}, follow=True).text
    assert "Signed by Dana Director and Terry Tech" in page
    assert reverse("desk:leave", args=["TV-20"]) in page
    assert Instrument.objects.get(pk=horns[1].pk).whereabouts == "not_found"
    data = b"".join(desk.get(url("count-sheet", count, "csv")))
    assert b"TV-20" in data
    assert b",'=asked" in data
    assert desk.get(url("count-sheet", count, "pdf")).content.startswith(b"%PDF-")
    assert [one.after["form"] for one in Event.objects.filter(act="exported").order_by("number")] == ["csv", "pdf"]
    assert desk.get(url("count-sheet", count, "txt")).status_code == 404


def test_a_blind_count_says_nothing_of_what_is_expected_until_it_ends(desk, school, room, horns, director):
    closet = make_room(school=school, name="Closet")
    count = open_count(school=school, is_blind=True, actor=director, at=NOW)
    page = desk.post(url("count", count), {"text": "TV-19", "room": closet.pk}, headers=HTMX).text
    assert "TV-19 is recorded." in page
    for word in ("Found", "not seen", "1/2", "TV-20", "Register:"):
        assert word not in page
    desk.post(url("count-act", count), {"act": "end"})
    assert "TV-20" in desk.get(url("count-settle", count)).text


def test_a_horn_of_another_school_is_recorded_and_shows_nothing_but_its_school(desk, auditor, client, school, horns):
    other = make_instrument(school=make_school(name="Pine Grove"), asset_number="PG-7", second_number="DIST 41")
    count = make_count(school=school)
    typed = desk.post(url("count", count), {"text": "dist 41"}, headers=HTMX).text
    assert "Unknown number" in typed
    assert "Pine Grove" not in typed
    assert "PG-7" not in typed
    assert Sighting.objects.get(text="dist 41").instrument == other
    Sighting.objects.filter(text="dist 41").update(undone_at=NOW)
    scanned = desk.post(url("count", count), {"text": f"HTTPS://X/T/{other.tags.get().token}"}, headers=HTMX).text
    assert "Belongs to Pine Grove" in scanned
    assert "PG-7" not in scanned
    client.force_login(auditor)
    assert "PG-7" in client.get(url("count", count)).text


def test_what_is_no_whole_number_is_not_taken_for_an_instrument(desk, school, horns):
    count = make_count(school=school)
    desk.post(url("count", count), {"text": "TV-"})
    assert Sighting.objects.get(text="TV-").instrument is None
    page = desk.post(url("count", count), {"text": ""})
    assert page.status_code == 422
    assert "Scan a label or type a number." in page.text
    Instrument.objects.filter(pk=horns[0].pk).update(serial="S1")
    Instrument.objects.filter(pk=horns[1].pk).update(serial="S1", maker="Other")
    assert "may be" in desk.post(url("count", count), {"text": "S1"}).text


def test_a_sighting_is_taken_back_and_the_differences_are_counted_again(desk, school, horns, director):
    count = open_count(school=school, actor=director, at=NOW)
    seen = see(count, horns[0], director).sighting
    page = desk.post(url("count-undo", count, seen.pk), headers=HTMX)
    assert "Nothing has been counted yet" in page.text
    see(count, horns[0], director)
    desk.post(url("count-act", count), {"act": "end"})
    page = desk.post(url("count-act", count), {"act": "again"}, follow=True).text
    assert "To be counted again" in page
    assert "TV-20" in page
    desk.post(url("count-act", count), {"act": "drop"})
    assert "canceled" in desk.get(url("count", count)).text
    assert desk.post(url("count-act", count), {"act": "other"}).url == url("count", count)


def test_what_belongs_to_another_school_goes_by_what_was_typed(desk, horns, director, auditor, tech):
    other = make_instrument(
        school=make_school(name="Elm School"), asset_number="ELM-7", maker="Elm Makers", serial="E9"
    )
    count = open_count(school=horns[0].school, actor=director, at=NOW)
    see(count, other, director, text="elm 7")
    for horn in horns:
        see(count, horn, director)
    desk.post(url("count-act", count), {"act": "end"})
    page = desk.get(url("count-settle", count)).text
    assert "elm 7" in page
    assert "Belongs to Elm School" in page
    assert "ELM-7" not in page
    key = f"reason-sighting:{Sighting.objects.get(instrument=other).pk}"
    desk.post(url("count-settle", count), {key: "return_to_school", "second": tech.pk, "password": PASSWORD})
    count.refresh_from_db()
    assert count.signed_at
    for who, is_shown in ((None, False), (auditor, True)):
        if who is not None:
            desk.force_login(who)
        file = b"".join(desk.get(url("count-sheet", count, "csv")).streaming_content).decode()
        assert "elm 7" in file
        assert {word in file for word in ("ELM-7", "Elm Makers", "E9")} == {is_shown}
        assert ("ELM-7" in desk.get(url("count", count)).text) is is_shown


def test_who_counts_may_not_settle_and_another_school_sees_no_count(client, school, tech, stranger):
    count = make_count(school=school)
    client.force_login(tech)
    assert client.post(url("count", count), {"text": "X9"}).status_code == 302
    assert client.post(url("count-act", count), {"act": "end"}).status_code == 403
    client.force_login(stranger)
    for name in ("count", "count-settle"):
        assert client.get(url(name, count)).status_code == 404
    assert client.post(url("count", count), {"text": "X9"}).status_code == 404


def test_an_auditor_opens_several_and_the_first_page_says_what_is_due(client, auditor, school, horns):
    other = make_instrument(school=make_school()).school
    client.force_login(auditor)
    assert "2 schools are due to be counted" in client.get(reverse("desk:today")).text
    client.post(reverse("desk:count-open"), {"schools": [school.pk, other.pk]})
    assert Count.objects.count() == 2
    assert "being counted" in client.get(reverse("desk:today")).text
    assert client.post(reverse("desk:count-open"), {"schools": [school.pk]}).status_code == 422


def test_the_workbook_holds_every_row(desk, school):
    count = make_count(school=school, is_signed=True)
    data = b"".join(desk.get(url("count-sheet", count, "xlsx")).streaming_content)
    assert data[:2] == b"PK"
