"""The list of jobs, and taking an instrument to the bench."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Instrument, Role, StaffRole, Whereabouts
from repairs.models import Job
from repairs.services.jobs import give_up_job
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument, make_school, make_user
from tests.repairs.makers import STUCK, make_job, make_school_bench, state_of_rows
from tests.repairs.views.pages import address, queries_of

URL = reverse("repairs:jobs")


@pytest.fixture
def instrument(school, tech, client):
    client.force_login(tech)
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[STUCK], actor=tech)
    return Instrument.objects.get(pk=instrument.pk)


def opening(instrument):
    return reverse("repairs:open-job", args=[instrument.asset_number])


def test_the_list_shows_the_next_step_of_our_jobs_only(client, school, tech):
    client.force_login(tech)
    ours, theirs = make_job(school=school, actor=tech), make_job(school=make_school())
    page = client.get(URL).text
    assert ours.instrument.asset_number in page
    assert theirs.instrument.asset_number not in page
    assert "1 open job" in page


def test_the_first_due_stands_first_and_late_ones_say_so(client, school, tech):
    client.force_login(tech)
    today = timezone.localdate()
    later = make_job(school=school, actor=tech, due_on=today + timedelta(days=9))
    late = make_job(school=school, actor=tech, bench=later.bench, due_on=today - timedelta(days=2))
    page = client.get(URL).text
    assert page.index(late.instrument.asset_number) < page.index(later.instrument.asset_number)
    assert "was due" in page


def test_the_list_costs_the_same_for_one_job_and_for_twelve(client, school, tech):
    client.force_login(tech)
    bench = make_job(school=school, actor=tech).bench
    cost = queries_of(client, URL)
    for _ in range(11):
        make_job(school=school, actor=tech, bench=bench)
    assert queries_of(client, URL) == cost <= 12


def test_the_list_can_be_narrowed_to_a_bench_and_to_a_number(client, school, tech):
    client.force_login(tech)
    first, second = make_job(school=school, actor=tech), make_job(school=school, actor=tech)
    page = client.get(URL, {"bench": first.bench.code}).text
    assert first.instrument.asset_number in page
    assert second.instrument.asset_number not in page
    page = client.get(URL, {"q": second.instrument.serial}).text
    assert second.instrument.asset_number in page
    assert first.instrument.asset_number not in page
    assert client.get(URL, {"bench": "nowhere", "state": "odd", "page": "x"}).status_code == 200


def test_closed_jobs_say_how_they_ended(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech)
    give_up_job(job=job, because="Waits for money.", actor=tech, at=NOW + timedelta(hours=2))
    page = client.get(URL, {"state": "closed"}).text
    assert "Given up: Waits for money." in page
    assert "The bench is clear" in client.get(URL).text


def test_htmx_gets_the_list_alone(client, school, tech):
    client.force_login(tech)
    page = client.get(URL, headers={"HX-Request": "true"}).text
    assert 'id="list"' in page
    assert "<html" not in page


def test_the_plan_is_shown_beforehand_with_time_and_cost(client, school, instrument):
    make_school_bench(school)
    page = client.get(opening(instrument)).text
    assert "middle estimate" in page
    assert "4 in 5" in page
    assert "Start the job" in page
    assert "harder way" in page


def test_what_a_bench_cannot_do_is_said_with_the_reason(client, school, tech):
    client.force_login(tech)
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("leadpipe", "red_rot", "severe")], actor=tech)
    make_school_bench(school, profile="basic")
    page = client.get(opening(instrument)).text
    assert "What this bench cannot do" in page
    assert "at a shop" in page


def test_the_instruments_own_schools_bench_comes_first(client, school, instrument, tech):
    from inventory.models import Role, StaffRole

    elsewhere = make_school(name="Aardvark School")
    StaffRole.objects.create(user=tech, role=Role.TECH, school=elsewhere)
    make_school_bench(elsewhere, code="aa", name="A first in the alphabet")
    own = make_school_bench(school, code="zz", name="Z last")
    page = client.get(opening(instrument)).text
    assert f'value="{own.code}" selected' in page


def test_one_tap_opens_the_job(client, school, instrument):
    bench = make_school_bench(school)
    client.post(opening(instrument), {"bench": bench.code, "because": "Slide", "due_on": "2027-01-15"})
    job = Job.objects.get()
    assert (job.because, job.due_on.isoformat()) == ("Slide", "2027-01-15")
    response = client.get(opening(instrument))
    assert response.status_code == 302  # it is open: straight to the job
    assert response.headers["Location"] == reverse("repairs:job", args=[job.pk])


@pytest.mark.parametrize("wrong", [{"bench": "nowhere"}, {"due_on": "soon"}, {"because": "x" * 10_000}])
def test_what_makes_no_job_is_refused_and_nothing_written(client, school, instrument, wrong):
    bench = make_school_bench(school)
    before = state_of_rows()
    assert client.post(opening(instrument), {"bench": bench.code} | wrong).status_code == 422
    assert state_of_rows() == before


def test_a_bench_where_the_user_may_not_work_is_refused(client, school, instrument):
    make_school_bench(school)
    foreign = make_school_bench(make_school())
    before = state_of_rows()
    assert client.post(opening(instrument), {"bench": foreign.code}).status_code == 422
    assert state_of_rows() == before


def test_an_instrument_that_went_out_meanwhile_is_refused_in_words(client, school, instrument):
    bench = make_school_bench(school)
    Instrument.objects.filter(pk=instrument.pk).update(whereabouts=Whereabouts.NOT_FOUND)
    before = state_of_rows()
    response = client.post(opening(instrument), {"bench": bench.code})
    assert response.status_code == 422
    assert "no longer in storage" in response.text
    assert state_of_rows() == before
    assert "Start the job" not in client.get(opening(instrument)).text


def test_a_second_post_of_the_same_form_opens_no_second_job(client, school, instrument):
    bench = make_school_bench(school)
    client.post(opening(instrument), {"bench": bench.code})
    before = state_of_rows()
    assert client.post(opening(instrument), {"bench": bench.code}).status_code == 422
    assert state_of_rows() == before


def test_an_instrument_with_nothing_wrong_says_so(client, school, tech):
    client.force_login(tech)
    make_school_bench(school)
    assert "No finding needs work" in client.get(opening(make_ready_instrument(school=school))).text


def test_the_bench_sheet_is_a_pdf_named_after_the_instrument(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech)
    response = client.get(address("sheet", job))
    assert response.headers["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")
    assert f"bench-sheet-{job.instrument.asset_number}.pdf" in response.headers["Content-Disposition"]


def test_the_work_is_not_offered_for_a_role_at_another_school(client, job):
    user = make_user(Role.TECH, school=make_school())
    StaffRole.objects.create(user=user, role=Role.AUDITOR, school=job.instrument.school)
    client.force_login(user)
    assert client.get(address("job", job)).context["may_work"] is False
