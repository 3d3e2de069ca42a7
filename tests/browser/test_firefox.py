"""The main flows in a browser that shares no code with Chromium. What a person does there is common practice, no source."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Inspection, Instrument
from loans.models import Loan
from tests.factories import PASSWORD, make_inspection, make_instrument, make_student
from tests.firefox import ENTER, Firefox, firefox_path

pytestmark = pytest.mark.drill


@pytest.fixture
def firefox(live_server, tmp_path):
    if firefox_path() is None:
        pytest.skip("no Firefox here: install the package firefox-esr")
    with Firefox(home=live_server.url, folder=tmp_path) as page:
        yield page


@pytest.fixture
def horns(transactional_db, school):
    yesterday = timezone.now() - timedelta(days=1)
    make_inspection(instrument=make_instrument(school=school, asset_number="TV-1", at=yesterday), at=yesterday)
    make_instrument(school=school, asset_number="TV-2", at=yesterday)
    for number in range(8):  # more than a list to choose from shows
        make_student(school=school, name=f"Player {number}")
    make_student(school=school, name="Robin Reed", guardian_name="Gale Reed")


def test_an_instrument_is_found_inspected_lent_and_taken_back(horns, director, firefox):
    firefox.go(reverse("core:log-in"))
    firefox.type("//input[@name='username']", director.username)
    firefox.type("//input[@name='password']", PASSWORD)
    firefox.press("Log in")
    firefox.press("Search")
    firefox.type("//main//input[@name='q']", f"TV-2{ENTER}")
    firefox.sees("TV-2")  # the only one: its page opens

    firefox.press("Inspect")
    firefox.press("Yes, safe")
    firefox.press("Something is wrong")
    firefox.press_at("//label[contains(@class, 'fault-name')][input[@value='mouthpiece_stuck']]")
    firefox.press_at("//div[@class='fault'][.//input[@value='mouthpiece_stuck']]//button[@value='severe']")
    firefox.press("Fine")
    firefox.press("All fine from here")
    firefox.press("All there")
    firefox.press("Finish and see the verdict")
    firefox.until(Inspection.objects.finished().filter(instrument__asset_number="TV-2").exists)
    firefox.sees(Instrument.objects.get(asset_number="TV-2").get_verdict_display())
    walk = Inspection.objects.finished().get(instrument__asset_number="TV-2")
    assert [finding.fault for finding in walk.findings.all()] == ["mouthpiece_stuck"]
    assert walk.looks.count() == len(walk.instrument.parts) - 1

    firefox.go(reverse("desk:instrument", args=["TV-1"]))
    firefox.press("Lend")
    firefox.type("//input[@role='combobox']", "rob")
    firefox.press_at("//*[@role='option'][contains(., 'Reed, Robin')]")
    firefox.press_at("//label[contains(., 'All here')]")
    firefox.sign("//canvas[@data-for='id_student_signature']")
    firefox.sign("//canvas[@data-for='id_guardian_signature']")
    firefox.press("Lend it")
    firefox.sees("Robin Reed")
    loan = Loan.objects.get()
    assert (loan.student.name, loan.returned_at) == ("Robin Reed", None)

    firefox.go(reverse("desk:take-back", args=["TV-1"]))
    firefox.press_at("//label[@for='id_found_same']")
    firefox.press_at("//label[contains(., 'All here')]")
    firefox.press("Back in storage")
    firefox.until(Loan.objects.exclude(returned_at=None).exists)
    assert Instrument.objects.get(asset_number="TV-1").whereabouts == "in_store"
