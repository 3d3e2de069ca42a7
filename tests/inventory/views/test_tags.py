from __future__ import annotations

import pytest
from django.urls import reverse

from inventory.models import Accessory, Tag
from tests.factories import make_instrument, make_school

pytestmark = pytest.mark.django_db


def address(name, *args):
    return reverse(f"inventory:{name}", args=args)


def test_the_live_tag_is_shown_as_a_code_and_in_letters(client, director, school):
    instrument = make_instrument(school=school)
    client.force_login(director)
    page = client.get(address("tags", instrument.asset_number)).text
    token = Tag.objects.get().token
    assert '<svg xmlns="http://www.w3.org/2000/svg"' in page
    assert " ".join(token[at : at + 4] for at in (0, 4, 8, 12)) in page
    assert f"?tag={Tag.objects.get().pk}" in page


def test_a_new_tag_replaces_the_old_and_the_history_tells_why(client, director, school):
    instrument = make_instrument(school=school)
    old = Tag.objects.get()
    client.force_login(director)
    page = client.post(address("issue-tag", instrument.asset_number), {"because": "worn off"}, follow=True).text
    old.refresh_from_db()
    assert old.revoked_because == "worn off"
    assert "worn off" in page
    assert Tag.objects.live().count() == 1


def test_a_mouthpiece_gets_a_tag_of_its_own(client, director, school):
    instrument = make_instrument(school=school)
    piece = instrument.accessories.get(code="mouthpiece")
    client.force_login(director)
    page = client.post(address("issue-tag", instrument.asset_number), {"accessory": piece.pk}, follow=True).text
    assert Tag.objects.live().filter(accessory=piece).count() == 1
    assert page.count("<svg xmlns") >= 2


@pytest.mark.parametrize("named", ["other", "x", "999999"])
def test_only_its_own_accessories_can_be_tagged(client, director, school, named):
    instrument = make_instrument(school=school)
    other = make_instrument(school=make_school())
    if named == "other":
        named = str(Accessory.objects.filter(instrument=other).first().pk)
    client.force_login(director)
    assert client.post(address("issue-tag", instrument.asset_number), {"accessory": named}).status_code == 404
    assert Tag.objects.count() == 2


def test_a_revoked_tag_needs_a_reason_and_then_leads_nowhere(client, director, school):
    instrument = make_instrument(school=school)
    tag = Tag.objects.get()
    client.force_login(director)
    revoke = address("revoke-tag", instrument.asset_number, tag.pk)
    assert client.post(revoke, {"because": ""}).status_code == 422
    assert Tag.objects.live().count() == 1
    assert client.post(revoke, {"because": "stolen"}).status_code == 302
    page = client.get(address("tags", instrument.asset_number)).text
    assert "The instrument has no tag" in page
    assert "stolen" in page


def test_a_tag_of_another_instrument_is_not_revoked_here(client, director, school):
    instrument = make_instrument(school=school)
    other = Tag.objects.get(instrument=make_instrument(school=school))
    client.force_login(director)
    assert client.get(address("revoke-tag", instrument.asset_number, other.pk)).status_code == 404


def test_before_the_address_is_set_the_page_says_so(client, director, school, settings):
    settings.PUBLIC_ADDRESS = ""
    instrument = make_instrument(school=school)
    client.force_login(director)
    assert "public address is not set" in client.get(address("tags", instrument.asset_number)).text
