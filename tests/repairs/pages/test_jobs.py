from __future__ import annotations

from datetime import timedelta

from django.core.paginator import Paginator
from django.urls import reverse
from django.utils import timezone

from inventory.models import Instrument
from repairs.models import Job
from repairs.pages.jobs import open_job_lines, opening_page
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import begin_wait
from tests.factories import NOW, make_inspection, make_instrument, make_ready_instrument
from tests.repairs.makers import STUCK, fresh, make_job, make_school_bench, read_cautions


def lines_at(now, *, number=1, per_page=5):
    jobs = Job.objects.open().first_due()
    return open_job_lines(Paginator(jobs, per_page).page(number), now=now)


def test_what_rests_stands_apart_until_its_wait_is_over(school, tech):
    job = make_job(school=school, actor=tech, findings=[("case", "odor_mold", "severe")])
    read_cautions(job, actor=tech, at=NOW)
    step = next(one for one in plan_for_job(fresh(job)).steps if one.wait_h > 0)
    clock = begin_wait(job=job, step_key=step.key, actor=tech, at=NOW + timedelta(hours=2))
    before = lines_at(clock.waits_until - timedelta(minutes=1))
    after = lines_at(clock.waits_until)
    assert [len(before["at_hand"]), len(before["resting"])] == [0, 1]
    assert [len(after["at_hand"]), len(after["resting"])] == [1, 0]
    assert after["at_hand"][0]["is_wait_over"]
    assert f"{timezone.localtime(clock.waits_until):%M}" in before["resting"][0]["waits"]


def test_pages_hold_what_they_should(school, tech):
    bench = make_job(school=school, actor=tech).bench
    for _ in range(2):
        make_job(school=school, actor=tech, bench=bench)
    lines = lines_at(NOW, number=2, per_page=2)
    assert lines["page"].paginator.count == 3
    assert len(lines["at_hand"]) == 1


def test_the_plan_depends_on_the_bench(school, tech):
    instrument = make_instrument(school=school)
    rot = ("leadpipe", "red_rot", "severe")
    make_inspection(instrument=instrument, findings=[STUCK, rot, ("bell", "dent_small", "light")], actor=tech)
    instrument = Instrument.objects.get(pk=instrument.pk)
    page = opening_page(instrument, bench=make_school_bench(school, profile="basic"))
    assert page["has_work"]
    assert page["is_in_store"]
    assert any("red rot" in one.finding.lower() and one.why for one in page["sent_out"])
    assert any("looks only" in one.why for one in page["left"])
    assert page["cost_p80"] >= page["cost_p50"] > 0
    assert next(line for line in page["steps"] if line["rungs"])["where"] == "Third valve slide"


def test_a_trip_to_a_shop_says_that_its_days_are_not_counted(client, school, tech):
    cello = make_instrument(school=school, kind_code="cello")
    make_inspection(
        instrument=cello, findings=[("soundpost", "soundpost_down", "severe"), ("strings", "string_broken", "moderate")]
    )
    make_school_bench(school)
    client.force_login(tech)
    address = reverse("repairs:open-job", args=[cello.asset_number])
    assert "own days and bill come on top" in client.get(address).text
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[("leadpipe", "lime_scale", "moderate")])
    assert "own days" not in client.get(reverse("repairs:open-job", args=[instrument.asset_number])).text


def test_an_instrument_without_findings_has_no_work(school):
    page = opening_page(make_ready_instrument(school=school), bench=None)
    assert not page["has_work"]
    assert page["is_inspected"]
