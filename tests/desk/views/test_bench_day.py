"""The bench's day as a page and as a sheet."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time
from urllib.parse import urlencode

import pypdfium2
import pytest
from django.urls import reverse

from desk.views.bench_day import next_quarter
from repairs.models import Job
from tests.factories import make_student
from tests.repairs.makers import LEAKING_CORK, make_job
from tests.repairs.money_makers import make_item, make_refusal
from tests.repairs.views.pages import address, answer


def test_the_first_job_heads_the_page_and_is_one_tap_away(client, tech, school):
    job = make_job(school=school, findings=[LEAKING_CORK])
    client.force_login(tech)
    text = client.get(reverse("desk:bench-day")).text
    assert f"{job.instrument.asset_number} comes first" in text
    assert f"Start with {job.instrument.asset_number}" in text
    assert "Why is this first?" in text


def test_a_full_bench_shows_its_first_jobs_and_all_when_asked(client, tech, school, monkeypatch):
    monkeypatch.setattr("desk.pages.bench_day.SHOWN_JOBS", 1)
    first = make_job(school=school, findings=[LEAKING_CORK])
    late = make_job(school=school, findings=[LEAKING_CORK], bench=first.bench)
    Job.objects.update(due_on=date(2020, 1, 2))
    client.force_login(tech)
    page = client.get(reverse("desk:bench-day") + "?hours=2&start=08:30").text
    assert page.count('class="place num"') == 1
    assert "2 open jobs" in page
    assert "2 promised dates" in page, "all that is late counts, shown or not"
    assert 'href="?start=08%3A30&amp;hours=2&amp;all=1#order"' in page
    assert "Show all 2 jobs" in page
    whole = client.get(reverse("desk:bench-day") + "?hours=2&start=08:30&all=1").text
    assert whole.count('class="place num"') == 2
    assert late.instrument.asset_number in whole
    assert "Show " not in whole.partition("<main")[2]


def test_no_student_is_named(client, tech, school):
    make_job(school=school, findings=[LEAKING_CORK])
    make_student(school=school, name="Quillon Marrow", wants_kind="trumpet")
    client.force_login(tech)
    text = client.get(reverse("desk:bench-day")).text
    assert "1 student" in text
    assert "Marrow" not in text


def test_a_clear_bench_says_so(client, tech):
    client.force_login(tech)
    assert "The bench is clear" in client.get(reverse("desk:bench-day")).text


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("?hours=2&start=08:30", 200), ("?hours=0", 422), ("?hours=13", 422), ("?hours=lots", 422),
        ("?start=half+past", 422), ("?hours=" + "9" * 400, 422), ("?hours=nan", 422), ("?hours=&start=", 200),
    ],
)  # fmt: skip
def test_hours_and_start_that_make_no_sense_are_said_and_the_usual_is_shown(client, tech, school, query, status):
    make_job(school=school, findings=[LEAKING_CORK])
    client.force_login(tech)
    page = client.get(reverse("desk:bench-day") + query)
    assert page.status_code == status
    assert "Which job is next" in page.text


def test_the_sheet_is_one_page_with_every_step(client, tech, school):
    jobs = [make_job(school=school, findings=[LEAKING_CORK])]
    jobs += [make_job(school=school, bench=jobs[0].bench) for _ in range(3)]
    client.force_login(tech)
    pdf = client.get(reverse("desk:bench-day-sheet") + "?hours=8&start=08:00").content
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 1
    text = document[0].get_textpage().get_text_range()
    assert all(job.instrument.asset_number in text for job in jobs)
    assert "8:00" in text


@pytest.mark.parametrize(("minute", "at"), [(0, time(9, 0)), (1, time(9, 15)), (46, time(10, 0))])
def test_a_day_begins_at_the_next_quarter(minute, at, settings):
    settings.TIME_ZONE = "UTC"
    assert next_quarter(datetime(2026, 9, 14, 9, minute, tzinfo=UTC)).minute == at.minute


def worked_on(client, tech, school):
    client.force_login(tech)
    return make_job(school=school, actor=tech)


def test_a_step_done_from_the_days_plan_leads_back_to_it(client, tech, school):
    job = worked_on(client, tech, school)
    plan = client.get(reverse("desk:bench-day"), {"hours": "3", "start": "8:00"}).text
    begun = address("job", job) + "?day=hours%3D3"
    assert f'href="{begun}"' in plan
    page = client.get(begun).text
    do, start = (f'action="{address(name, job)}?day=hours%3D3"' for name in ("do-step", "start-step"))
    assert do in page
    assert start in page
    step = answer(job)["step"]
    started = client.post(address("start-step", job) + "?day=hours%3D3", {"step": step})
    assert started.headers["Location"].endswith(f"?{urlencode({'step': step, 'day': 'hours=3'})}")
    refused = client.post(address("do-step", job) + "?day=hours%3D3", answer(job, outcome="flown"))
    assert refused.status_code == 422
    assert do in refused.text
    done = client.post(address("do-step", job) + "?day=hours%3D3", answer(job))
    assert done.headers["Location"] == reverse("desk:bench-day") + "?hours=3"
    assert client.get(done.headers["Location"]).context["form"]["start"].value()


def test_the_day_to_go_back_to_is_never_another_site(client, tech, school):
    job = worked_on(client, tech, school)
    done = client.post(address("do-step", job) + "?day=//elsewhere.example/", answer(job))
    assert done.headers["Location"] == reverse("desk:bench-day") + "?"


def test_a_job_that_lacks_a_part_says_which_is_not_done_by_the_end_and_leads_to_the_shopping_list(client, tech, school):
    client.force_login(tech)
    job = make_job(school=school, findings=[LEAKING_CORK])
    make_item(bench=job.bench, code="water_key_corks")
    page = " ".join(client.get(reverse("desk:bench-day")).text.split())
    number = job.instrument.asset_number
    assert "Every job is waiting for a part" in page
    assert re.search(r"Lacks 1 of the water-key corks", page)
    assert reverse("repairs:shopping", args=[job.bench.code]) in page
    assert "Done by the end" not in page
    other = make_job(school=school, bench=job.bench)
    page = " ".join(client.get(reverse("desk:bench-day")).text.split())
    assert f"{other.instrument.asset_number} comes first" in page
    assert "1 is waiting for a part." in page
    assert number in page
    assert client.get(reverse("desk:bench-day-sheet")).content.startswith(b"%PDF")


def test_a_job_whose_repair_was_not_approved_is_named_with_who_said_so_and_why(client, tech, school):
    client.force_login(tech)
    job = make_job(school=school, findings=[LEAKING_CORK])
    refused = make_refusal(instrument=job.instrument, actor=tech)
    page = " ".join(client.get(reverse("desk:bench-day")).text.split())
    assert "No job can be done now" in page
    assert f"{refused.settled_by} on" in page
    assert "Buy one" in page
    assert reverse("repairs:job", args=[job.pk]) in page
    other = make_job(school=school, bench=job.bench)
    page = " ".join(client.get(reverse("desk:bench-day")).text.split())
    assert f"{other.instrument.asset_number} comes first" in page
    assert "1 is not approved." in page
    assert client.get(reverse("desk:bench-day-sheet")).content.startswith(b"%PDF")
