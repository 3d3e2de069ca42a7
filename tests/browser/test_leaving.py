"""An instrument leaves the fleet from a phone, and its old tag says so."""

from __future__ import annotations

from django.urls import reverse

from inventory.models import Disposal, Tag
from tests.factories import PASSWORD, make_ready_instrument


def test_an_instrument_is_sold_on_a_phone_and_its_tag_says_so(
    transactional_db, school, director, administrator, open_page
):
    instrument = make_ready_instrument(school=school)
    tag = Tag.objects.get(instrument=instrument)
    page = open_page(user=director)
    page.goto(reverse("desk:leave", args=[instrument.asset_number]))
    page.get_by_role("radio", name="Sold").check()
    page.get_by_label("Why", exact=False).first.fill("Its repair costs more than it is worth.")
    page.get_by_label("Proceeds").fill("85")
    page.get_by_label("Approved by").select_option(label=str(administrator))
    page.get_by_label("The approver's password").fill(PASSWORD)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_role("button", name="Record that it left").tap()
    page.get_by_text("is out of the fleet.").first.wait_for()
    assert Disposal.objects.get().proceeds_amount == 85
    page.goto(reverse("desk:scan"))
    page.locator("input[name=text]").fill(tag.token)
    page.keyboard.press("Enter")
    page.get_by_text("which is out of the fleet. Sold, ").wait_for()
