"""Pages of parts instruments."""

from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import Instrument
from repairs.models import TakenPart, WorthDecision
from tests.factories import make_ready_instrument, make_school, new_nonce
from tests.repairs.money_makers import make_parts_instrument


@pytest.fixture
def desk(client, tech):
    client.force_login(tech)
    return client


def page_of(parts_instrument, name="parts-horn"):
    return reverse(f"repairs:{name}", args=[parts_instrument.instrument.asset_number])


def take(desk, parts_instrument, **fields):
    return desk.post(page_of(parts_instrument, "take-part"), {"nonce": new_nonce(), "note": ""} | fields)


def keep(client, instrument, **fields):
    return client.post(reverse("repairs:mark-parts-horn", args=[instrument.asset_number]), fields)


def test_who_approves_keeps_it_for_parts_and_it_stays_in(client, director, school):
    instrument = make_ready_instrument(school=school)
    client.force_login(director)
    assert keep(client, instrument, because="").status_code == 422
    answer = keep(client, instrument, because="Casing cracked")
    assert answer.headers["Location"] == reverse("repairs:parts-horn", args=[instrument.asset_number])
    assert Instrument.objects.get(pk=instrument.pk).readiness == "stays_in"
    assert instrument.asset_number in client.get(reverse("repairs:parts-horns")).text


def test_who_may_not_approve_asks_for_it(desk, director, school):
    instrument, nonce = make_ready_instrument(school=school), new_nonce()
    page = desk.get(reverse("desk:instrument", args=[instrument.asset_number])).text
    assert reverse("repairs:mark-parts-horn", args=[instrument.asset_number]) in page
    for _ in range(2):
        answer = keep(desk, instrument, because="Casing cracked", nonce=nonce)
    assert answer.headers["Location"] == reverse("repairs:worth", args=[instrument.asset_number])
    assert not Instrument.objects.get(pk=instrument.pk).is_parts_instrument
    decision = WorthDecision.objects.get()
    assert (decision.answer, decision.because, decision.holds) == ("keep_for_parts", "Casing cracked", False)
    desk.force_login(director)
    assert instrument.asset_number in desk.get(reverse("repairs:approvals")).text
    desk.post(reverse("repairs:settle-worth", args=[decision.pk]), {"answer": "yes"})
    assert Instrument.objects.get(pk=instrument.pk).is_parts_instrument


def test_a_set_is_offered_as_one_and_taken_whole(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    assert "Pistons, 3 as a set" in desk.get(page_of(parts_instrument)).text
    take(desk, parts_instrument, offer="piston:1", onto=f" {onto.asset_number.lower()} ")
    assert TakenPart.objects.filter(onto=onto).count() == 3
    page = desk.get(page_of(parts_instrument)).text
    assert page.count("Pistons, 3 as a set") == 1  # moved from what it has to what went where


def test_whether_it_fits_is_remembered_by_model(desk, school):
    parts_instrument = make_parts_instrument(instrument=make_ready_instrument(school=school, model="B2"))
    onto = make_ready_instrument(school=school, model="B3")
    take(desk, parts_instrument, offer="bell:", onto=onto.asset_number)
    desk.post(reverse("repairs:note-fit", args=[TakenPart.objects.get().pk]), {"fit": "fits"})
    page = desk.get(reverse("repairs:parts-horns")).text
    assert "of Plain Brass Works B2 on Plain Brass Works B3" in page


def test_a_fit_that_is_none_changes_nothing(desk, school):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    take(desk, parts_instrument, offer="bell:", onto=onto.asset_number)
    desk.post(reverse("repairs:note-fit", args=[TakenPart.objects.get().pk]), {"fit": "<script>"})
    assert TakenPart.objects.get().fit == ""


@pytest.mark.parametrize("fields", [{"offer": "moon:"}, {"onto": "NOBODY-1"}, {"offer": ""}])
def test_what_it_has_not_and_a_number_nobody_has_is_asked_again(desk, school, fields):
    parts_instrument, onto = make_parts_instrument(school=school), make_ready_instrument(school=school)
    answer = take(desk, parts_instrument, **({"offer": "bell:", "onto": onto.asset_number} | fields))
    assert answer.status_code == 422
    assert not TakenPart.objects.exists()


def test_a_part_does_not_go_onto_another_schools_instrument(desk, school):
    parts_instrument, theirs = make_parts_instrument(school=school), make_ready_instrument(school=make_school())
    assert take(desk, parts_instrument, offer="bell:", onto=theirs.asset_number).status_code == 422


def test_it_plays_again_and_is_no_parts_instrument_any_more(desk, school):
    parts_instrument = make_parts_instrument(school=school)
    desk.post(page_of(parts_instrument, "unmark-parts-horn"), {"because": "A casing turned up"})
    assert desk.get(page_of(parts_instrument)).status_code == 404
    assert Instrument.objects.get(pk=parts_instrument.instrument_id).readiness == "may_go_out"
