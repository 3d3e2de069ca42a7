"""The first day: a list of 110 instruments with names, and with what lists have wrong with them, becomes a true register."""

from __future__ import annotations

import pytest

from inventory.models import Instrument, ListRemark
from loans.models import Loan, Student
from tests.bench.first_day_list import first_day_list

MOST_SECONDS = 120.0  # of a person: taps and letters, waits left out
ASKED = {"sax": "Alto saxophone", "horn": "Horn, double", "baritone": "Euphonium"}
WRONG_KINDS = {"cell-10-1": "Bass clarinet", "cell-53-1": "Trumpet"}
WRONG_CELLS = {"cell-26-5": "475", "cell-78-4": "", "cell-91-3": "100630"}


@pytest.mark.counted
@pytest.mark.django_db(transaction=True)
def test_a_list_with_names_becomes_instruments_and_loans(open_page, counted_hand, school, director):
    page = open_page(user=director)
    page.goto("/instruments/import/")
    hand = counted_hand(page)
    page.set_input_files("[name=file]", {"name": "list.csv", "mimeType": "text/csv", "buffer": first_day_list()})
    hand.go("Read the list")
    hand.tap("Check 112 rows")
    hand.wait(lambda: page.get_by_role("heading", name="84 instruments ready to register").wait_for())
    for word, kind in ASKED.items():
        hand.choose(page.get_by_label(f"“{word}” means"), kind)
    hand.tap("Use this for all rows")
    hand.wait(lambda: page.get_by_role("heading", name="105 instruments ready to register").wait_for())
    for name, kind in WRONG_KINDS.items():
        hand.choose(page.locator(f"select[name={name}]"), kind)
    for name, text in WRONG_CELLS.items():
        field = page.locator(f"[name={name}]")
        hand.tap(field)
        field.select_text()
        page.keyboard.press("Delete")
        hand.type(text)
    hand.tap("Save and check again")
    hand.wait(lambda: page.get_by_role("heading", name="110 instruments ready to register").wait_for())
    hand.go(page.get_by_role("link", name="Next: who has them"))
    hand.tap(page.locator("label", has_text="Signed on paper, kept elsewhere"))
    hand.tap(page.locator("label", has_text="Taken on trust"))
    hand.tap("Register 110 instruments")
    hand.wait(lambda: page.get_by_role("heading", name="110 instruments registered").wait_for())
    assert Instrument.objects.count() == 110
    assert (Loan.objects.count(), Student.objects.count()) == (64, 64)
    assert Instrument.objects.get(asset_number="0004").list_remarks.get().text == "2nd valve sticks"
    assert ListRemark.objects.count() == 7
    assert hand.counted_seconds < MOST_SECONDS / 2, hand
