"""The season plan as a page and on paper."""

from __future__ import annotations

import re

import pypdfium2
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.models import Event
from inventory.models import Instrument
from repairs.models import Job
from tests.factories import make_director, make_inspection, make_instrument, make_ready_instrument, make_user
from tests.loans.makers import make_ensemble, make_seat
from tests.repairs.makers import STUCK, make_school_bench

pytestmark = pytest.mark.django_db
ASKED = "?goal=priority"


def make_stuck(school) -> Instrument:
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[STUCK])
    return instrument


@pytest.fixture
def director(client, school):
    person = make_director(school)
    client.force_login(person)
    return person


@pytest.fixture
def band(school):
    """Two trumpet seats of the wind band, a trumpet that is ready and one with a stuck slide."""
    make_school_bench(school, name="Back room bench")
    ensemble = make_ensemble(school=school, name="Wind band", priority=1)
    for _ in range(2):
        make_seat(place=ensemble, kind_code="trumpet")
    make_ready_instrument(school=school)
    make_stuck(school)
    return ensemble


def shown(client, query: str = ASKED) -> str:
    answer = client.get(reverse("desk:season-plan") + query)
    assert answer.status_code == 200
    return " ".join(answer.text.partition("<main")[2].split())


def test_the_form_comes_first_and_plans_nothing(client, director, band):
    page = shown(client, "")
    assert "Season plan" in page
    assert "seats filled" not in page
    assert "Hours: Back room bench" in page


def test_it_says_who_is_seated_and_what_is_repaired_where(client, director, band):
    page = shown(client)
    assert "2 of 2 seats filled" in page
    assert "Repair at Back room bench" in page
    assert "Wind band" in page
    assert "Proven best: no plan fills more seats" in page


def test_without_hours_and_money_the_second_seat_stays_empty_and_says_why(client, director, band, school):
    bench = school.benches.get()
    page = shown(client, f"{ASKED}&hours_{bench.pk}=0&shop_money=0&purchase_money=0")
    assert "1 of 2 seats filled" in page
    assert "Not enough instruments, with these hours and this money" in page
    assert "Needs more than an entire budget by itself" in page
    assert "5 more hours: Back room bench" in page
    assert "+1 seat of priority 1" in page


def test_what_nobody_has_inspected_says_so(client, director, band, school):
    make_seat(place=band, kind_code="tuba")
    make_instrument(school=school, kind_code="tuba")
    assert "Not inspected yet: inspect it so it can be counted" in shown(client, f"{ASKED}&purchase_money=0")


def test_what_is_bought_says_how_many_and_for_whom(client, director, band):
    make_seat(place=band, kind_code="tuba")
    page = shown(client)
    assert "1 × Tuba" in page
    assert "each, for Wind band" in page


def test_nobody_who_needs_anything_is_said(client, director):
    assert "No seats to fill yet" in shown(client)


@pytest.mark.parametrize(
    "query", ["?goal=best", f"{ASKED}&shop_money=-1", f"{ASKED}&shop_money=NaN", f"{ASKED}&needed_by=x"]
)
def test_what_cannot_be_planned_is_refused_and_stays_typed(client, director, band, query):
    answer = client.get(reverse("desk:season-plan") + query)
    assert answer.status_code == 422
    assert "errorlist" in answer.text
    paper = client.get(reverse("desk:season-plan-pdf") + query)
    assert (paper.status_code, paper["Location"]) == (302, reverse("desk:season-plan"))


def test_an_administrator_chooses_a_school_or_plans_all(client, band, school):
    other = make_ensemble(name="Stage band")
    make_seat(place=other, kind_code="flute")
    client.force_login(make_user("administrator"))
    assert "of 3 seats filled" in shown(client)
    assert "of 2 seats filled" in shown(client, f"{ASKED}&school={school.code}")
    assert "Hours at schools without a bench" in shown(client)


def test_another_schools_seats_and_instruments_are_not_in_it(client, band):
    client.force_login(make_director())
    page = shown(client)
    assert "Wind band" not in page
    assert client.get(f"{reverse('desk:season-plan')}{ASKED}&school={band.school.code}").text.count("Wind band") == 0


def test_no_student_is_named(client, director, band):
    seat = make_seat(place=band, kind_code="tuba")
    assert seat.student.name not in shown(client)


def test_markup_in_a_name_stays_text(client, director, band):
    band.name = "<b>Wind</b>"
    band.save()
    assert "<b>Wind</b>" not in shown(client)


def test_the_paper_says_the_same(client, director, band):
    answer = client.get(reverse("desk:season-plan-pdf") + ASKED)
    assert answer["Content-Type"] == "application/pdf"
    text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(answer.content))
    assert "2 of 2 seats filled" in text
    assert "Back room bench" in text


def test_more_seats_and_instruments_cost_no_more_queries(client, director, band, school):
    shown(client)
    with CaptureQueriesContext(connection) as few:
        shown(client)
    for _ in range(3):
        make_seat(place=band, kind_code="trumpet")
        make_stuck(school)
    shown(client)
    with CaptureQueriesContext(connection) as many:
        shown(client)
    assert len(many) <= len(few)


def test_the_jobs_that_can_begin_are_opened_in_one_act(client, director, band, school):
    page = client.get(reverse("desk:season-plan") + f"{ASKED}&needed_by=2099-01-01&shop_money=0&purchase_money=0")
    form = page.context["jobs"]
    assert form["numbers"].value() == Instrument.objects.latest("pk").asset_number
    posted = {"numbers": form["numbers"].value(), "nonce": form["nonce"].value()}
    answer = client.post(reverse("desk:season-jobs"), posted, follow=True)
    assert "Opened 1 job." in answer.text
    assert Job.objects.get().instrument == Instrument.objects.latest("pk")


def test_jobs_of_another_school_are_not_opened(client, band):
    client.force_login(make_director())
    number = Instrument.objects.latest("pk").asset_number
    answer = client.post(reverse("desk:season-jobs"), {"numbers": number}, follow=True)
    assert "Make the plan again" in answer.text
    assert not Job.objects.exists()


def test_a_post_without_numbers_opens_nothing(client, director, band):
    page = client.get(reverse("desk:season-plan") + f"{ASKED}&shop_money=0&purchase_money=0")
    address = f"{reverse('desk:season-jobs')}?goal=priority&amp;shop_money=0&amp;purchase_money=0"
    assert f'action="{address}"' in page.text
    answer = client.post(address.replace("&amp;", "&"), {}, follow=True)
    assert "No jobs were opened" in answer.text
    assert answer.redirect_chain == [
        (f"{reverse('desk:season-plan')}?goal=priority&shop_money=0&purchase_money=0", 302)
    ]
    assert not Job.objects.exists()


def test_a_refusal_leads_back_to_the_plan(client, director, band):
    number = Instrument.objects.latest("pk").asset_number
    Instrument.objects.filter(asset_number=number).update(is_retired=True)
    answer = client.post(reverse("desk:season-jobs") + ASKED, {"numbers": number})
    assert (answer.status_code, answer["Location"]) == (302, reverse("desk:season-plan") + ASKED)


@pytest.mark.parametrize("name", ["desk:season-plan", "desk:season-plan-pdf"])
def test_where_the_time_of_a_page_is_up_it_says_what_it_could_not_prove(client, director, band, monkeypatch, name):
    """Nothing is searched: both seats are open, and neither $100 nor $500 more for shops was tried."""
    monkeypatch.setattr("desk.views.season_plan.PLAN_WITHIN", 0.0)
    monkeypatch.setattr("desk.views.season_plan.PAGE_WITHIN", 0.0)
    answer = client.get(reverse(name) + f"{ASKED}&shop_money=90")
    if name == "desk:season-plan":
        text = answer.text
    else:
        text = "".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(answer.content))
    text = " ".join(text.split())
    assert "0 of 2 seats filled" in text
    assert "Not proven best: a better plan could fill or save at most 100.00% more." in text
    assert "Not reached in the time the plan had" in text
    assert "4 further amounts were not computed in the time a page has." in text
    assert "fill more seats elsewhere" not in text


def test_who_may_not_open_jobs_is_not_offered_it(client, band):
    client.force_login(make_user("administrator"))
    assert client.get(reverse("desk:season-plan") + ASKED).context["jobs"] is None


def test_another_number_says_what_it_changed_and_a_reload_says_the_same(client, director, band, school):
    bench = school.benches.get()
    assert "Changed since" not in shown(client, f"{ASKED}&purchase_money=0&hours_{bench.pk}=0&shop_money=0")
    for _ in range(2):
        page = shown(client, f"{ASKED}&purchase_money=0")
        assert "Seats filled: 1 then, 2 now. Cost: $0" in page
        assert f"repair {Instrument.objects.latest('pk').asset_number}" in page
    page = shown(client, f"{ASKED}&purchase_money=0&hours_{bench.pk}=0&shop_money=0")
    assert "No longer:" in page


def test_what_is_bought_becomes_a_request_with_its_total(client, director, band, school):
    make_seat(place=band, kind_code="flute")
    assert "Purchase request (PDF)" in shown(client)
    answer = client.get(reverse("desk:purchase-request") + ASKED)
    (page,) = pypdfium2.PdfDocument(answer.content)
    text = page.get_textpage().get_text_range()
    assert all(words in text for words in ("Purchase request", director.name, "Flute", "Wind band", "Total"))
    client.get(reverse("desk:season-plan-pdf") + ASKED)
    logged = Event.objects.filter(act="exported").order_by("pk").values_list("after__what", "tenant")
    assert list(logged) == [
        ("purchase request", director.staff_roles.get().school_id),
        ("season plan", director.staff_roles.get().school_id),
    ]


def test_nothing_bought_is_no_request(client, director, band):
    answer = client.get(reverse("desk:purchase-request") + f"{ASKED}&purchase_money=0", follow=True)
    assert "This plan buys nothing." in answer.text


def test_what_more_money_fills_is_drawn_and_said(client, director, band, school):
    """One trumpet is ready; a shop frees the other."""
    bench = school.benches.get()
    page = shown(client, f"{ASKED}&hours_{bench.pk}=0&shop_money=0&purchase_money=0")
    assert page.count("<svg") > 3
    assert "Seats that more money would fill" in page
    assert re.findall(r"<text[^>]*>(\+?\d)</text>", page.partition("chart-money-wide")[2].partition("</svg>")[0]) == [
        "0",
        "+1",
    ]
    assert "$100 more for outside shops would fill 1 seat more." in page
    assert "2 more hours: Back room bench would fill 1 seat more." in page
