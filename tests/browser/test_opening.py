"""A stranger's first minutes on a phone: from the printed link to the list of what comes next."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Role, StaffRole
from inventory.services.opening import make_opening_link

pytestmark = pytest.mark.django_db(transaction=True)
A_QUARTER_OF_AN_HOUR = 15 * 60.0


@pytest.mark.counted
def test_a_place_is_opened_on_a_phone_in_one_page(open_page, counted_hand):
    page = open_page()
    page.goto(reverse("desk:begin", args=[make_opening_link(at=timezone.now())]))
    hand = counted_hand(page)
    for label, typed in (
        ("District", "Alder Valley Schools"),
        ("First school", "Cedar Fork Middle"),
        ("Its rooms, shelves and cabinets", "Band room"),
        ("Your name", "Pat Morgan"),
        ("User name", "pmorgan"),
        ("Password", "slide-grease-and-kindness"),
        ("Password again", "slide-grease-and-kindness"),
    ):
        hand.type(typed, into=page.get_by_label(label, exact=True))
    hand.go("Set up and log in")
    page.get_by_text("6 of 8 done").wait_for()
    page.get_by_role("link", name="Bring your list").wait_for()
    assert {held.role for held in StaffRole.objects.all()} == {Role.ADMINISTRATOR, Role.DIRECTOR}
    assert len(hand.taps) <= 8, hand.taps
    assert hand.counted_seconds < A_QUARTER_OF_AN_HOUR / 10, hand
