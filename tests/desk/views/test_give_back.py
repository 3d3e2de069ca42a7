"""Give-back over HTTP: scan after scan, undone, with something missing, inspected later."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from inventory.models import Instrument
from inventory.services.care import report_problem
from loans.models import Loan
from repairs.models import Job
from tests.factories import NOW, make_bench, make_ready_instrument, make_user, new_nonce
from tests.loans.makers import make_loan, make_returned

GIVE_BACK, PILE = reverse("desk:give-back"), reverse("desk:to-inspect")


@pytest.fixture(autouse=True)
def at_noon(monkeypatch):
    """The pages read the clock; the rows of these tests were made on NOW."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(hours=1))


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


@pytest.fixture
def loan(school, director):
    return make_loan(instrument=make_ready_instrument(school=school, asset_number="TV-0019"), actor=director)


def test_a_scan_takes_back_and_the_list_goes_on(desk, loan, school, director):
    other = make_loan(school=school, actor=director)
    page = desk.post(GIVE_BACK, {"text": "tv19"}, follow=True).text
    assert "1 of 2 are back" in page
    assert "1 to inspect" in page
    assert Instrument.objects.get(pk=loan.instrument_id).whereabouts == "in_store"
    answer = desk.post(GIVE_BACK, {"text": other.instrument.asset_number}, headers={"HX-Request": "true"})
    assert answer.text.lstrip().startswith("<section")
    assert answer.text.index(other.instrument.asset_number) < answer.text.index("TV-0019")
    again = desk.post(GIVE_BACK, {"text": "tv19"})
    assert again.status_code == 422
    assert "TV-0019 was already taken back" in again.text
    assert desk.post(GIVE_BACK, {"text": " "}).status_code == 422


def test_the_districts_own_label_takes_back_too(desk, loan, school):
    """Common practice, no source: the number that is not ours means one instrument as ours does."""
    Instrument.objects.filter(pk=loan.instrument_id).update(second_number="Dist-41")
    make_ready_instrument(school=school, asset_number="TV-0041")  # ends in the same digits
    assert "TV-0019" in desk.post(GIVE_BACK, {"text": "dist-41"}, follow=True).text
    loan.refresh_from_db()
    assert loan.returned_at is not None


def test_in_the_line_it_leads_to_the_comparison_and_back_to_the_line(desk, loan):
    answer = desk.post(GIVE_BACK, {"text": "tv19", "now": "on"})
    assert answer.url == reverse("desk:take-back", args=["TV-0019"]) + "?line=1"
    asked = desk.post(GIVE_BACK, {"text": "tv19", "now": "on"}, headers={"HX-Request": "true"})
    assert asked["HX-Redirect"] == answer.url
    back = desk.post(answer.url, {"found": "same", "all_here": "on", "to": "store"})
    assert back.url == f"{GIVE_BACK}?now=1"
    assert Loan.objects.get(pk=loan.pk).taken_back.compared_with == loan.hand_out


def test_a_problem_reported_while_it_was_out_leads_to_its_job_once_it_is_back(desk, loan, school, director):
    """Scanned or taken back at the counter; until then it waits among what is reported, and no job can be opened."""
    make_bench(school=school)
    counter = make_loan(school=school, actor=director)
    reports = [report_problem(instrument=one.instrument, text="A <valve> sticks.", at=NOW) for one in (loan, counter)]
    pages = [reverse("desk:reported", args=[report.pk]) for report in reports]
    assert "Reported" not in desk.get(reverse("desk:take-back", args=["TV-0019"])).text, "nobody confirmed it"
    for page in pages:
        desk.post(page, {"nonce": str(new_nonce())})
    assert "Open a job" not in desk.get(pages[0]).text
    line = desk.post(GIVE_BACK, {"text": "tv19"}, follow=True).text
    assert "Reported: A &lt;valve&gt; sticks." in line
    assert pages[0] in line
    number = counter.instrument.asset_number
    form = reverse("desk:take-back", args=[number])
    assert "A &lt;valve&gt; sticks." in desk.get(form).text
    back = desk.post(form, {"found": "same", "all_here": "on", "to": "store"})
    assert back.url == pages[1]
    assert f"{number} is back in storage." in desk.get(back.url).text
    today = desk.get("/").text
    for page in pages:
        assert page in today
        assert "Open a job" in desk.get(page).text
        bench = desk.get(page).context["form"]["bench"].initial.pk
        desk.post(page, {"nonce": str(new_nonce()), "bench": bench})
    assert {job.instrument_id for job in Job.objects.open()} == {loan.instrument_id, counter.instrument_id}
    assert "Open a job" not in desk.get(pages[0]).text


def test_what_is_missing_takes_a_tap_and_a_slip_is_undone(desk, loan):
    desk.post(GIVE_BACK, {"text": "tv19"})
    code = loan.accessories[0]["code"]
    page = desk.post(reverse("desk:missing-back", args=[loan.pk]), {"back": f"{code}:0"}, follow=True).text
    assert f"without {loan.accessories[0]['name']}" in page
    for unreadable in ("case", f"{code}:{'9' * 5000}"):
        assert desk.post(reverse("desk:missing-back", args=[loan.pk]), {"back": unreadable}).status_code == 422
    desk.post(reverse("desk:undo-return", args=[loan.pk]))
    assert Loan.objects.get(pk=loan.pk).is_open
    assert desk.post(reverse("desk:undo-return", args=[loan.pk])).status_code == 422


def test_the_pile_is_worked_off_by_a_tech_without_names(client, loan, school, director):
    returned = make_returned(school=school, actor=director, at=NOW)
    client.force_login(make_user("tech", school=school))
    page = client.get(PILE).text
    assert returned.instrument.asset_number in page
    assert returned.student.name not in page
    same = reverse("desk:same-back", args=[returned.pk])
    assert "came back as it went out" in client.post(same, follow=True).text
    assert Loan.objects.get(pk=returned.pk).taken_back.compared_with == returned.hand_out
    assert client.post(same).status_code == 404
    assert "Nothing to inspect" in client.get(PILE).text
    assert "inspect it again" not in page.lower()
    assert client.get(reverse("loans:loan", args=[loan.pk])).status_code == 403
