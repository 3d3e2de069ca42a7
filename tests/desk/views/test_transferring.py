"""Pages between schools, and of the wrong kind. Common practice, no source."""

from __future__ import annotations

import csv
import io

import pytest
from django.urls import reverse

from inventory.models import Instrument, Transfer
from tests.factories import make_ready_instrument
from tests.inventory.leaving_makers import make_transfer
from tests.repairs.makers import make_job

pytestmark = [pytest.mark.django_db, pytest.mark.page]


def test_one_school_offers_and_the_other_agrees(client, school, director, stranger):
    horn, there = make_ready_instrument(school=school), stranger.staff_roles.get().school
    client.force_login(director)
    url = reverse("desk:offer", args=[horn.asset_number])
    assert "What goes with it" in client.get(url).text
    along = {f"with_{one.code}": 1 for one in horn.accessories.all()}
    answer = client.post(url, {"to_school": there.pk, "because": "More players there", **along})
    offered = Transfer.objects.get()
    page = reverse("desk:transfer", args=[offered.pk])
    assert answer.headers["Location"] == page
    assert "Withdraw the offer" in client.get(page).text
    assert "It moves when somebody there agrees" in client.get(url).text
    client.force_login(stranger)
    assert horn.asset_number in client.get(reverse("desk:today")).text
    offers = reverse("desk:transfers")
    assert "?file=csv" in (text := client.get(offers).text)
    assert horn.asset_number in text
    (row,) = csv.DictReader(io.StringIO(client.get(f"{offers}?file=csv").getvalue().decode("utf-8-sig")))
    assert (row["Offer"], row["Asset number"], row["Why"]) == (
        "Offered to you",
        horn.asset_number,
        "More players there",
    )
    assert client.get(f"{offers}?file=pdf").content.startswith(b"%PDF")
    assert client.get(reverse("desk:instrument", args=[horn.asset_number])).status_code == 404
    answer = client.post(page, {"answer": "yes", "room_name": "Annex"})
    assert answer.headers["Location"] == reverse("desk:instrument", args=[horn.asset_number])
    assert Instrument.objects.get(pk=horn.pk).school == there
    assert "Agreed." in client.get(page).text


def test_an_offer_is_withdrawn_and_nobody_else_sees_it(client, school, director, tech, stranger):
    offered = make_transfer(make_ready_instrument(school=school))
    page = reverse("desk:transfer", args=[offered.pk])
    client.force_login(stranger)
    assert client.get(page).status_code == 404
    client.force_login(director)
    assert client.post(page, {"answer": "no", "note": "Kept."}).status_code == 302
    assert "Ended" in client.get(page).text


def test_the_wrong_kind_is_corrected_in_place(client, school, director):
    client.force_login(director)
    horn = make_ready_instrument(school=school)
    url = reverse("desk:correct-kind", args=[horn.asset_number])
    assert client.post(url, {"kind_code": ""}).status_code == 422
    client.post(url, {"kind_code": "flute"})
    page = client.get(reverse("desk:instrument", args=[horn.asset_number])).text
    assert "Flute" in page
    job = make_job(school=school)
    url = reverse("desk:correct-kind", args=[job.instrument.asset_number])
    assert "repair job is open" in client.post(url, {"kind_code": "flute"}).text
