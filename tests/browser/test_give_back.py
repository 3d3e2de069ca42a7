"""Give-back, counted as a person would: a scan or a tap a second, a typed character 0.3 s."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Instrument, Tag
from loans.models import Loan
from tests.factories import make_inspection, make_instrument
from tests.loans.makers import make_loan

MANY = 40


@pytest.mark.counted
def test_five_come_back_scan_after_scan_and_one_without_its_case(
    transactional_db, school, director, open_page, counted_hand
):
    yesterday = timezone.now() - timedelta(days=1)
    loans = []
    for _ in range(5):
        instrument = make_instrument(school=school, at=yesterday)
        make_inspection(instrument=instrument, at=yesterday)
        loans.append(make_loan(instrument=Instrument.objects.get(pk=instrument.pk), actor=director, at=yesterday))
    tokens = [Tag.objects.live().get(instrument=loan.instrument, accessory=None).token for loan in loans]
    page = open_page(user=director)
    page.goto(reverse("desk:give-back"))
    hand = counted_hand(page)
    for token in tokens:  # faster than the answers come: each waits for its turn
        hand.scan(f"HTTPS://HORNS.EXAMPLE/T/{token}")
    hand.wait(page.get_by_text("5 of 5 are back").wait_for)
    hand.tap(page.locator("summary", has_text="Something is missing"))
    hand.tap("No case")
    hand.wait(page.get_by_text("without case").wait_for)
    back = [Loan.objects.get(pk=loan.pk) for loan in loans]
    assert all(loan.returned_at and loan.taken_back is None for loan in back)
    assert [row["count"] for row in back[-1].accessories_back if row["code"] == "case"] == [0]
    assert hand.counted_seconds <= 5 + 2, hand


@pytest.mark.counted
def test_forty_are_recorded_as_clean(transactional_db, school, director, open_page, counted_hand):
    for _ in range(MANY):
        make_instrument(school=school, acquired_by="transfer")  # nobody here saw it cleaned
    page = open_page(user=director)
    page.goto(reverse("desk:today"))
    hand = counted_hand(page)
    hand.go(page.get_by_role("link", name="to clean"))
    hand.choose(page.get_by_label("Cleaned with"), "Soap and water alone")
    hand.type("0", into=page.get_by_label("Minutes it stayed wet"))
    hand.go("The checked ones are clean")
    page.get_by_text(f"{MANY} instruments are clean.").wait_for()
    assert not Instrument.objects.filter(is_hygiene_due=True).exists()
    assert hand.counted_seconds <= 6, hand
