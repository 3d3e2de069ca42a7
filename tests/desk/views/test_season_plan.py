"""The season plan as a page and on paper."""

from __future__ import annotations

import re

import pypdfium2
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from core.models import Event
from inventory.models import Instrument, PurchaseRequest, Role, StaffRole
from repairs.models import Job
from tests.desk.services.test_season_plan import make_stuck
from tests.factories import (
    make_director,
    make_instrument,
    make_ready_instrument,
    make_school,
    make_user,
)
from tests.inventory.purchase_makers import make_purchase_request
from tests.loans.makers import make_ensemble, make_seat
from tests.repairs.makers import make_school_bench

pytestmark = pytest.mark.django_db
ASKED = "?goal=priority"


@pytest.fixture
def director(client, school):
    person = make_director(school)
    client.force_login(person)
    return person


@pytest.fixture
def band(school):
    return make_band(school)


def make_band(school):
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


def sealed(client, query: str = ASKED) -> dict[str, str]:
    """Return what the button of the plan posts."""
    form = client.get(reverse("desk:season-plan") + query).context["start"]
    starts = {name: str(form[name].value()) for name in ("jobs", "orders", "purchases")}
    return {name: form[name].value() for name in ("plan", "nonce")} | starts


def test_jobs_parts_and_purchase_request_come_of_one_tap(client, director, band):
    """Twice tapped, and the second answer is shown: the same page, and nothing twice."""
    make_seat(place=band, kind_code="tuba")
    posted = sealed(client, f"{ASKED}&shop_money=0")
    client.post(reverse("desk:start-season"), posted)
    answer = client.post(reverse("desk:start-season"), posted, follow=True)
    job, request = Job.objects.get(), PurchaseRequest.objects.get()
    page = " ".join(answer.text.partition("<main")[2].split())
    assert "1 job opened, 1 purchase request filed" in page
    assert f'href="{reverse("repairs:job", args=[job.pk])}"' in page
    assert "The bench has all the parts that these jobs need." in page
    assert f'href="{reverse("desk:purchase-request", args=[request.pk])}"' in shown(client)  # requested already
    assert f'href="{reverse("desk:purchase-request", args=[request.pk])}"' in page
    assert "1 × Tuba" in page


def test_a_plan_that_went_stale_says_it_of_each_instrument(client, director, band, school):
    make_seat(place=band, kind_code="trumpet")
    moved, fine = Instrument.objects.latest("pk"), make_stuck(school)
    posted = sealed(client, f"{ASKED}&shop_money=0&purchase_money=0")
    Instrument.objects.filter(pk=moved.pk).update(school=make_school())
    answer = client.post(reverse("desk:start-season"), posted, follow=True)
    assert f"{moved.asset_number} skipped: It is no longer at your school." in answer.text
    assert Job.objects.get().instrument == fine


def test_nothing_of_another_school_is_started(client, director, band):
    make_seat(place=band, kind_code="tuba")
    posted = sealed(client)
    client.force_login(make_director())
    answer = client.post(reverse("desk:start-season"), posted, follow=True)
    assert "Run it again" in answer.text
    assert not Job.objects.exists()
    assert not PurchaseRequest.objects.exists()


def test_a_post_without_a_plan_starts_nothing(client, director, band):
    query = "?goal=priority&shop_money=0&purchase_money=0"
    page = client.get(reverse("desk:season-plan") + query)
    address = f"{reverse('desk:start-season')}{query}"
    assert f'action="{address.replace("&", "&amp;")}"' in page.text
    answer = client.post(address, {}, follow=True)
    assert "Nothing was started" in answer.text
    assert answer.redirect_chain == [(f"{reverse('desk:season-plan')}{query}", 302)]
    assert not Job.objects.exists()


def test_a_refusal_leads_back_to_the_plan(client, director, band):
    posted = sealed(client, f"{ASKED}&purchase_money=0")
    Instrument.objects.update(is_retired=True)
    answer = client.post(reverse("desk:start-season") + ASKED, posted)
    assert (answer.status_code, answer["Location"]) == (302, reverse("desk:season-plan") + ASKED)


@pytest.mark.parametrize("query", ["", "?at=now", "?at=2026-08-03T12:00:00Z"])
def test_where_nothing_was_started_the_plan_is_shown(client, director, query):
    answer = client.get(reverse("desk:season-started") + query)
    assert (answer.status_code, answer["Location"]) == (302, reverse("desk:season-plan"))


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


def test_who_may_not_open_jobs_asks_for_what_is_bought_alone(client, band):
    client.force_login(make_user("administrator"))
    assert client.get(f"{reverse('desk:season-plan')}{ASKED}&purchase_money=0").context["start"] is None
    make_seat(place=band, kind_code="tuba")
    assert "Request 1 instrument" in client.get(reverse("desk:season-plan") + ASKED).text
    client.post(reverse("desk:start-season"), sealed(client))
    assert PurchaseRequest.objects.get().school == band.school
    assert not Job.objects.exists()


def test_another_number_says_what_it_changed_and_a_reload_says_the_same(client, director, band, school):
    bench = school.benches.get()
    first = f"{ASKED}&purchase_money=0&hours_{bench.pk}=0&shop_money=0"
    assert "Changed since" not in shown(client, first)
    name = client.get(reverse("desk:season-plan") + first).context["mine"]
    for _ in range(2):
        page = shown(client, f"{ASKED}&purchase_money=0&before={name}")
        assert "Seats filled: 1 then, 2 now. Cost: $0" in page
        assert f"repair {Instrument.objects.latest('pk').asset_number}" in page


def test_two_tabs_are_each_compared_with_their_own(client, director, band, school):
    """Each form carries the name of the plan it stands beside: of no seats by shops and bench, and of all."""
    bench = school.benches.get()
    none, every = (f"{ASKED}&purchase_money=0{rest}" for rest in (f"&hours_{bench.pk}=0&shop_money=0", ""))
    tabs = [client.get(reverse("desk:season-plan") + query).context["mine"] for query in (none, every)]
    for query, name, words in ((every, tabs[0], "1 then, 2 now"), (none, tabs[1], "2 then, 1 now")):
        page = shown(client, f"{query}&before={name}")
        assert f'name="before" value="{tabs[query == every]}"' in page
        assert words in page
    assert "Changed since" not in shown(client, f"{every}&before={tabs[1]}")  # the same again
    assert "Changed since" not in shown(client, f"{every}&before=nothing")


def test_a_request_is_on_file_and_opens_as_paper_again(client, director, school):
    assert "No purchase requests yet" in client.get(reverse("desk:purchase-requests")).text
    request = make_purchase_request(school=school, actor=director)
    make_purchase_request()
    page = client.get(reverse("desk:purchase-requests"))
    assert [line["request"] for line in page.context["lines"]] == [request]
    assert "2 × Tuba" in page.text
    address = reverse("desk:purchase-request", args=[request.pk])
    assert f'href="{address}"' in page.text
    (paper,) = pypdfium2.PdfDocument(client.get(address).content)
    text = paper.get_textpage().get_text_range()
    assert all(words in text for words in ("Purchase request", director.name, "Tuba", "Wind band", "Total", "$4,201"))
    client.get(reverse("desk:season-plan-pdf") + ASKED)
    logged = Event.objects.filter(act="exported").order_by("pk").values_list("after__what", "tenant")
    assert list(logged) == [("purchase request", school.pk), ("season plan", school.pk)]


def test_what_is_requested_is_not_asked_for_again_and_the_plan_says_so(client, director, band):
    for _ in range(3):
        make_seat(place=band, kind_code="tuba")
    make_purchase_request(school=band.school, actor=director)
    make_purchase_request()
    page = shown(client)
    assert "already requested: 2" in page
    assert "Request 1 instrument" in page
    client.post(reverse("desk:start-season"), sealed(client))
    assert PurchaseRequest.objects.filter(school=band.school).latest("pk").count == 1
    assert client.get(reverse("desk:season-plan") + ASKED).context["start"] is None


def test_a_request_is_closed_once_and_the_second_click_says_so(client, director, school):
    request = make_purchase_request(school=school, actor=director)
    address = reverse("desk:close-purchase", args=[request.pk])
    assert f'action="{address}"' in client.get(reverse("desk:purchase-requests")).text
    assert "Choose whether" in client.post(address, {"closed_as": "lost"}, follow=True).text
    answer = client.post(address, {"closed_as": "bought"}, follow=True)
    assert "The purchase request is closed: bought." in answer.text
    assert f'action="{address}"' not in answer.text
    assert "already been closed" in client.post(address, {"closed_as": "withdrawn"}, follow=True).text
    assert PurchaseRequest.objects.get().closed_as == "bought"


def test_a_job_is_offered_only_where_the_user_may_open_one(client, band, school):
    """An administrator there who directs another school: the permission somewhere is not the permission here."""
    person = make_user("administrator")
    StaffRole.objects.create(user=person, school=make_school(), role=Role.DIRECTOR)
    client.force_login(person)
    make_seat(place=band, kind_code="tuba")
    assert client.get(reverse("desk:season-plan") + f"{ASKED}&shop_money=0").context["page"]["to_start"] == []


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
