"""The list of loans, one loan, its paper: who reads what, and at what cost."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from core.models import Event
from loans.models import Agreement
from loans.tasks import make_paper
from loans.views.loans import next_act
from tests.factories import TODAY, make_ready_instrument, make_school, make_student
from tests.loans.makers import make_agreement, make_loan, make_signing_link

LIST = reverse("loans:list")


@pytest.fixture
def loan(school, director):
    student = make_student(
        school=school, name="Robin Reed", guardian_name="Gale Reed", guardian_contact="555-0177 gale"
    )
    return make_loan(school=school, student=student, actor=director)


def page_of(loan):
    return reverse("loans:loan", args=[loan.pk])


def test_a_loan_of_today_offers_the_next_one_in_line(school):
    loan = make_loan(school=school)
    assert next_act(loan, today=loan.lent_on) == "lend"
    assert next_act(loan, today=loan.lent_on + timedelta(days=1)) == ""
    loan.returned_at = timezone.now()
    assert next_act(loan, today=timezone.localdate()) == "take-back"
    assert next_act(loan, today=timezone.localdate() + timedelta(days=1)) == ""


def test_an_older_loan_is_taken_back_by_the_main_button(client, director, loan):
    client.force_login(director)
    page = client.get(page_of(loan)).text
    assert "Lend another" not in page
    assert f'class="btn btn-main" href="{reverse("desk:take-back", args=[loan.instrument.asset_number])}"' in page


def test_the_list_hides_the_loans_of_other_schools(client, director, loan):
    other = make_loan(instrument=make_ready_instrument(school=make_school(), asset_number="THEIRS"))
    client.force_login(director)
    page = client.get(LIST).text
    assert loan.instrument.asset_number in page
    assert "THEIRS" not in page
    assert client.get(page_of(other)).status_code == 404


@pytest.mark.parametrize(("role", "is_sorted"), [("director", True), ("administrator", False)])
def test_the_list_is_sorted_by_names_only_for_those_who_see_them(request, client, loan, role, is_sorted):
    school = loan.instrument.school
    student = make_student(school=school, name="Ada Alto")
    make_loan(instrument=make_ready_instrument(school=school, asset_number="LATER"), student=student)
    client.force_login(request.getfixturevalue(role))
    orders = []
    for sign in ("", "-"):
        page = client.get(LIST, {"sort": f"{sign}student"}).text
        orders.append(page.index("LATER") < page.index(loan.instrument.asset_number))
    assert (orders[0] != orders[1]) == is_sorted


@pytest.mark.parametrize(
    ("role", "name", "contact"), [("director", True, True), ("auditor", True, False), ("administrator", False, False)]
)
def test_names_and_contacts_go_only_to_those_who_may_read_them(request, client, loan, *, role, name, contact):
    client.force_login(request.getfixturevalue(role))
    for page in (client.get(LIST).text, client.get(page_of(loan)).text):
        assert any(shown in page for shown in ("Robin Reed", "Reed, Robin")) is name
    assert ("555-0177" in page) is contact
    assert ("Gale Reed" in page) is contact


def test_a_search_for_a_name_finds_nothing_for_those_who_may_not_read_names(client, administrator, loan):
    client.force_login(administrator)
    assert loan.instrument.asset_number not in client.post(LIST, {"q": "Robin", "state": "open"}, follow=True).text


def test_a_fragment_for_htmx_is_the_table_alone(client, director, loan):
    client.force_login(director)
    part = client.get(LIST, headers={"HX-Request": "true"}).text
    assert loan.instrument.asset_number in part
    assert "<html" not in part


def test_the_list_costs_the_same_for_one_loan_and_for_twelve(client, director, school, loan):
    client.force_login(director)
    client.get(LIST)
    with CaptureQueriesContext(connection) as one:
        client.get(LIST)
    for _ in range(11):
        make_loan(school=school, actor=director)
    with CaptureQueriesContext(connection) as twelve:
        client.get(LIST)
    assert len(twelve) == len(one) <= 12


def test_what_is_to_be_signed_says_where_each_link_stands_at_the_same_cost(client, director, school, loan):
    client.force_login(director)
    assert 'data-label="Link to sign"' not in client.get(LIST).text
    assert "No link" in client.get(LIST, {"state": "to_sign"}).text
    make_signing_link(loan)
    with CaptureQueriesContext(connection) as one:
        assert "Printed on" in client.get(LIST, {"state": "to_sign"}).text
    for _ in range(3):
        make_signing_link(make_loan(school=school, actor=director))
    with CaptureQueriesContext(connection) as four:
        assert client.get(LIST, {"link": "sent"}).text.count("Printed on") == 4
    assert len(four) <= len(one) + 8  # for the filter, once more what the page asks


def test_an_odd_address_shows_a_list_all_the_same(client, director, loan):
    client.force_login(director)
    odd = {"sort": "nothing", "page": "999", "kind": "kazoo", "q": "'\"<x>\u202e" * 10}
    assert client.get(LIST, odd).status_code == 200


def test_a_paper_that_is_not_there_yet_is_made_when_asked_for_and_kept(client, director, auditor, loan):
    make_agreement(loan)
    client.force_login(director)
    url = reverse("loans:agreement", args=[loan.pk])
    assert "has not been made yet" in client.get(url, follow=True).text
    assert not Agreement.objects.get().pdf_sha256
    make = reverse("loans:make-agreement", args=[loan.pk])
    assert "The PDF was made and saved." in client.post(make, follow=True).text
    first = client.get(url).content
    kept = Agreement.objects.get()
    client.post(make)
    assert first.startswith(b"%PDF-")
    assert kept.pdf_sha256
    assert client.get(url).content == first
    opened = Event.objects.filter(act="exported")
    assert [event.after["what"] for event in opened] == ["agreement", "agreement"]
    assert Agreement.objects.get().pdf.name == kept.pdf.name
    assert kept.pdf_sha256 not in client.get(page_of(loan)).text, "hashes are for the auditor"
    client.force_login(auditor)
    assert kept.pdf_sha256 in client.get(page_of(loan)).text


def test_a_loan_without_a_paper_or_scan_has_none_to_show(client, director, loan):
    client.force_login(director)
    for name in ("loans:agreement", "loans:scan"):
        assert client.get(reverse(name, args=[loan.pk])).status_code == 404
    assert "Signature pending" in client.get(page_of(loan)).text


def test_a_paper_deleted_after_its_time_is_said_to_be_gone(client, director, loan):
    make_agreement(loan)
    Agreement.objects.update(pdf="", pdf_sha256="ab" * 32)
    client.force_login(director)
    assert client.get(reverse("loans:agreement", args=[loan.pk])).status_code == 404
    assert "The paper was deleted." in client.get(page_of(loan)).text


def test_a_late_loan_says_so(client, director, school, monkeypatch):
    late = make_loan(school=school, actor=director, due_on=TODAY)
    client.force_login(director)
    monkeypatch.setattr("loans.views.loans.timezone.localdate", lambda *_moment: TODAY.replace(day=16))
    assert "2 days late" in client.get(page_of(late)).text
    assert "2 days late" in client.get(LIST, {"state": "overdue"}).text


def shown(client, loan, **headers):
    return client.get(reverse("loans:loan", args=[loan.pk]), headers=headers).text


def test_while_the_worker_makes_the_paper_the_page_asks_for_it(client, director, loan):
    agreement = make_agreement(loan)
    make_paper.enqueue(agreement=agreement.pk)
    client.force_login(director)
    page = shown(client, loan)
    assert "The paper is being made." in page
    assert 'hx-trigger="load delay:2s"' in page
    call_command("work", "--once")
    part = shown(client, loan, **{"HX-Request": "true"})
    assert part.lstrip().startswith("<section")
    assert "Open the PDF" in part
    assert "hx-trigger" not in part


def test_a_paper_that_failed_says_when_it_is_tried_again_and_can_be_made_now(client, director, loan, monkeypatch):
    agreement = make_agreement(loan)
    make_paper.using(run_after=datetime(2031, 3, 4, 21, 7, tzinfo=UTC)).enqueue(agreement=agreement.pk, failures=2)
    client.force_login(director)
    page = shown(client, loan)
    assert "it will be tried again Mar 4, 3:07 PM." in page
    assert "hx-trigger" not in page
    assert "Make it now" in page

    def full(**_asked):
        raise OSError(28, "No space left on device")

    make = reverse("loans:make-agreement", args=[loan.pk])
    with monkeypatch.context() as patch:
        patch.setattr("loans.tasks.file_agreement_pdf", full)
        assert "could not be made yet" in client.post(make, follow=True).text
    assert "Open the PDF" in client.post(make, follow=True).text


def test_a_paper_that_no_worker_came_for_waits_and_the_page_asks_no_more(client, director, loan):
    make_agreement(loan)
    client.force_login(director)
    page = shown(client, loan)
    assert "The paper is waiting to be made." in page
    assert "hx-trigger" not in page
