"""The tech's page of one job and its taps."""

from __future__ import annotations

import io
from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.db import connection
from django.http import Http404
from django.test import RequestFactory
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django.utils.html import escape
from django.utils.text import capfirst
from PIL import Image

from inventory.models import Finding, Instrument, Photo, Role, StaffRole
from repairs.models import Attempt, CautionRead, StepClock, StockItem
from repairs.selectors.planning import job_state, plan_for_job
from repairs.services.jobs import give_up_job, open_job
from repairs.services.orders import bring_back, send_to_shop
from repairs.views.working import job_now, job_or_404, jobs_for
from tests.factories import NOW, make_school, make_user, new_nonce
from tests.repairs.makers import LEAKING_CORK, STUCK, do_next, fresh, make_job, read_cautions, state_of_rows
from tests.repairs.money_makers import make_item, make_order
from tests.repairs.views.pages import address, answer, queries_of, shown_cautions

LATER = NOW + timedelta(hours=3)


def picture() -> io.BytesIO:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), "brown").save(out, "JPEG")
    out.seek(0)
    out.name = "slide.jpg"
    return out


def test_the_page_says_the_step_its_part_its_fault_and_its_odds(client, job):
    page = client.get(address("job", job)).text
    step = plan_for_job(fresh(job)).next_step
    assert step.say in page
    assert "Third valve slide · " in page
    assert "starting guess" in page
    assert plan_for_job(fresh(job)).ladders[0].entry.freed_words in page


def test_the_page_tells_what_was_freed_here(client, job, school, tech):
    do_next(make_job(school=school, actor=tech, bench=job.bench), "freed")
    assert "1 of 1" in client.get(address("job", job)).text


def test_an_outcome_is_kept_and_the_next_page_says_what_it_changed(client, job):
    page = client.post(address("do-step", job), answer(job), follow=True).text
    assert "Freed early: saves" in page
    assert Attempt.objects.get().outcome == "freed"


def test_what_was_used_noted_and_photographed_is_kept(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    read_cautions(job, actor=tech)
    sent = answer(job, note="old cork was glued", minutes="6", photo=picture())
    need = plan_for_job(fresh(job)).next_step.parts[0]
    sent[f"use_{need.code}"] = str(need.quantity * 2)
    client.post(address("do-step", job), sent)
    attempt = Attempt.objects.get()
    assert attempt.note == "old cork was glued"
    assert attempt.minutes == 6
    assert attempt.photo == Photo.objects.get()
    assert attempt.parts_amount == (need.low + need.high).quantize(Decimal("0.01"))


def test_the_bar_asks_for_the_cautions_before_work_that_can_hurt(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    page = client.get(address("job", job)).text
    assert "I have read this and am trained for it" in page
    assert "Students never do this work" in page
    assert 'value="done"' not in page
    asked = {"step": answer(job)["step"]}
    for shown in ([], ["heat:0"]):
        refused = client.post(address("cautions", job), asked | {"shown": shown})
        assert "The cautions of this step have changed. Read them again." in refused.text
        assert not CautionRead.objects.exists()
    client.post(address("cautions", job), asked | {"shown": shown_cautions(page)})
    page = client.get(address("job", job)).text
    assert 'value="done"' in page
    assert ": read on " in page
    CautionRead.objects.filter(job=job).update(hazard="heat")  # that of another step: this one was never shown
    page = client.get(address("job", job)).text
    assert "I have read this and am trained for it" in page
    assert ": read on " not in page


def test_a_step_of_the_list_that_cannot_be_done_yet_shows_why(client, job):
    blocked = next(step for step in plan_for_job(fresh(job)).steps if step.waits_on)
    page = client.get(address("job", job), {"step": blocked.key}).text
    assert "Not now" in page
    assert blocked.waits_on[0].say in page
    assert 'name="outcome" value="done"' not in page


def test_a_refused_outcome_shows_the_reason_and_keeps_what_was_typed(client, job):
    blocked = next(step for step in plan_for_job(fresh(job)).steps if step.waits_on)
    before = state_of_rows()
    sent = answer(job, step=blocked.key, outcome="done", note="bent <b>pin</b> “x”")
    response = client.post(address("do-step", job), sent)
    assert response.status_code == 422
    assert "Not now" in response.text
    assert state_of_rows() == before


def test_a_note_of_ten_thousand_characters_is_refused_in_words(client, job):
    before = state_of_rows()
    response = client.post(address("do-step", job), answer(job, note="x" * 10_000))
    assert response.status_code == 422
    assert "Shorten it" in response.text
    assert state_of_rows() == before


def test_a_paper_named_jpg_is_refused_and_nothing_kept(client, job):
    paper = io.BytesIO(b"%PDF-1.7 not a photo")
    paper.name = "photo.jpg"
    before = state_of_rows()
    assert client.post(address("do-step", job), answer(job, photo=paper)).status_code == 422
    assert state_of_rows() == before


def test_tags_and_direction_marks_in_a_note_are_text(client, job, tech):
    client.post(address("do-step", job), answer(job, note="<script>alert(1)</script>\u202e"))
    give_up_job(job=job, because="<b>no</b>", actor=tech, at=LATER)
    page = client.get(address("job", job)).text
    assert "<script>alert" not in page
    assert "<b>no</b>" not in page


def test_a_page_left_open_while_another_closed_the_job_gets_a_clear_answer(client, job, school):
    sent = answer(job, note="took ages")
    other = make_user(Role.TECH, school=school)
    give_up_job(job=job, because="Waits for money.", actor=other, at=LATER)
    before = state_of_rows()
    response = client.post(address("do-step", job), sent)
    assert response.status_code == 422
    assert "Somebody else has closed this job" in response.text
    assert "took ages" in response.text
    assert state_of_rows() == before


def test_a_step_without_a_name_is_refused(client, job):
    before = state_of_rows()
    assert client.post(address("start-step", job), {}).status_code == 422
    assert client.post(address("do-step", job), {"step": "x" * 500}).status_code == 422
    assert state_of_rows() == before


def test_the_clock_is_started_and_taken_back(client, job):
    step = answer(job)["step"]
    assert "Started at" in client.post(address("start-step", job), {"step": step}, follow=True).text
    assert StepClock.objects.count() == 1
    client.post(address("stop-clock", job), {"step": step})
    assert not StepClock.objects.exists()


def test_while_it_waits_another_job_is_offered(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[("case", "odor_mold", "severe")])
    other = make_job(school=school, actor=tech, bench=job.bench)
    read_cautions(job, actor=tech)
    page = client.post(address("wait", job), {"step": answer(job)["step"]}, follow=True).text
    assert "waiting until" in page
    assert "Meanwhile" in page
    assert other.instrument.asset_number in page


def test_while_one_part_waits_the_page_goes_on_with_the_next(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[("case", "case_broken", "severe"), LEAKING_CORK])
    read_cautions(job, actor=tech)
    resting = next(step for step in plan_for_job(fresh(job)).steps if step.wait_h and not step.waits_on)
    page = client.post(address("wait", job), {"step": resting.key}, follow=True).text
    shown = job_state(fresh(job)).at_hand
    assert shown.key != resting.key
    assert f'<h1 id="step-title">{shown.say}</h1>' in page
    assert "waiting until" in page
    assert "Record the result" in page


def test_the_page_counts_the_tries_at_a_way(client, job):
    step = answer(job)["step"]
    assert "Still stuck, try 1 of 2" in client.get(address("job", job)).text
    key = new_nonce()
    page = client.post(address("count-try", job), {"step": step, "kept": key}, follow=True).text
    client.post(address("count-try", job), {"step": step, "key": key})  # the answer was lost: sent again
    assert fresh(job).step_tries == {step: 1}
    assert "Try it once more" in page
    assert "try 1 of 2" not in page
    assert "Still stuck: next way" in page
    assert not Attempt.objects.exists()


FALLEN = [("soundpost", "soundpost_down", "severe"), ("strings", "string_broken", "severe", "I")]


def test_a_trip_leads_to_the_order_and_is_not_done_without_one(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, kind_code="cello", findings=FALLEN)
    do_next(job)  # the strings are slack
    page = client.get(address("job", job)).text
    assert plan_for_job(fresh(job)).next_step.method == "shop_trip"
    assert "Go to the shop's order" in unescape(page)
    bar = page[page.index("answer-bar") :]
    assert 'value="done"' not in bar
    before = state_of_rows()
    for outcome in ("done", "not_right"):
        refused = client.post(address("do-step", job), answer(job, outcome=outcome))
        assert refused.status_code == 422
        assert "Write the shop's order" in unescape(refused.text)
    assert state_of_rows() == before
    order = make_order(instrument=fresh(job).instrument, at=LATER)
    send_to_shop(order=order, actor=tech, at=LATER)
    bring_back(order=order, what_was_done="Nothing", actor=tech, at=LATER + timedelta(hours=1))
    page = client.get(address("job", job)).text
    assert "Go on without another trip" in page
    assert client.post(address("do-step", job), answer(job)).status_code == 302
    assert plan_for_job(fresh(job)).step("shop_trip") is None


def test_a_trip_that_nobody_makes_is_skipped(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, kind_code="cello", findings=FALLEN)
    do_next(job)
    client.post(address("do-step", job), answer(job, outcome="skipped"))
    assert plan_for_job(fresh(job)).next_step.method != "shop_trip"


def test_the_step_shown_large_is_not_listed_again_and_all_else_is_folded(client, job):
    page = client.get(address("job", job)).text
    say = plan_for_job(fresh(job)).next_step.say
    assert page.count(f"{say}<") == page.count(f'<h1 id="step-title">{say}</h1>') == 1
    assert page.index("more ways to try") < page.index('id="plan"')
    assert '<details class="fold" open>' not in page


def test_what_comes_later_is_folded_and_says_once_what_it_waits_for(client, school, tech):
    client.force_login(tech)
    job = make_job(
        school=school, actor=tech, findings=[(f"{part}_valve_slide", *STUCK[1:]) for part in ("first", "third")]
    )
    answered = client.get(address("job", job))
    whys = [line["why"] for line in answered.context["page"]["later"]]
    assert whys
    for why in set(whys):
        assert answered.text.count(escape(capfirst(why))) == 1
    assert f"Later ({len(whys)})" in answered.text


def test_still_stuck_is_beside_came_free_before_a_rest_too(client, job, tech):
    for _ in range(8):
        step = plan_for_job(fresh(job)).next_step
        if step.rung and step.wait_h:
            break
        do_next(job, "still_stuck" if step.rung else "done")
    assert step.wait_h
    read_cautions(job, actor=tech)
    page = client.get(address("job", job), {"step": step.key}).text
    bar = page[page.index("answer-bar") : page.index("<main")]
    assert bar.index("Let it sit") < bar.index('value="freed"') < bar.index('value="still_stuck"')
    assert page.count('value="still_stuck"') == 1
    for waits_until, is_over in ((timezone.now() + timedelta(hours=1), False), (timezone.now(), True)):
        client.post(address("wait", job), {"step": step.key})
        StepClock.objects.update(waits_until=waits_until)
        page = client.get(address("job", job), {"step": step.key}).text
        bar = page[page.index("answer-bar") : page.index("<main")]
        assert bar.index('value="freed"') < bar.index("Still stuck, let it soak on")
        assert ("Still stuck: next way" in bar) is is_over
        assert page.count('value="still_stuck"') == 1
        assert "try 1 of 2" not in page


def test_a_tried_rung_is_offered_again_when_asked(client, job):
    step = answer(job)["step"]
    do_next(job, "still_stuck")
    assert "Try again" in client.get(address("job", job)).text
    client.post(address("try-again", job), {"step": step})
    assert step in {rung.step_key for rung in plan_for_job(fresh(job)).ladders[0].ahead}


def test_a_way_given_up_may_have_freed_it_after_all(client, job):
    step = answer(job)["step"]
    do_next(job, "still_stuck")
    assert "Came free after all" in client.get(address("job", job)).text
    page = client.post(address("came-free", job), {"step": step}, follow=True).text
    assert "it came free after all" in page
    assert "Came free after all" not in page
    assert not Finding.objects.filter(instrument=job.instrument_id).standing().exists()
    last = Attempt.objects.latest("pk")
    assert (last.step_key, last.outcome, last.minutes, last.parts_used) == (step, "freed", 0, [])
    assert client.post(address("came-free", job), {"step": step}).status_code == 422
    assert Attempt.objects.latest("pk") == last


def test_no_minutes_typed_are_left_to_the_clock(client, job):
    client.post(address("do-step", job), answer(job, outcome="freed", minutes="0"))
    assert Attempt.objects.get().minutes is None


def test_a_later_job_offers_again_what_failed_in_the_one_before(client, job, tech):
    step = answer(job)["step"]
    do_next(job, "still_stuck")
    assert "Tried in an earlier job" not in client.get(address("job", job)).text
    give_up_job(job=fresh(job), because="No time", actor=tech, at=LATER)
    instrument = Instrument.objects.get(pk=job.instrument_id)
    later = open_job(instrument=instrument, bench=job.bench, actor=tech, at=LATER)
    page = client.get(address("job", later)).text
    assert "Tried in an earlier job (1)" in page
    assert plan_for_job(fresh(later)).next_step.key != step
    page = client.post(address("try-again", later), {"step": step}, follow=True).text
    assert "Tried in an earlier job" not in page
    sent = answer(later, step=step, outcome="freed")
    client.post(address("do-step", later), sent)
    assert Attempt.objects.get(job=later).step_key == step
    assert not Finding.objects.filter(instrument=instrument).standing().exists()


def test_an_auditor_reads_the_page_and_gets_no_answers(client, job, auditor):
    client.force_login(auditor)
    page = client.get(address("job", job)).text
    assert 'name="outcome"' not in page
    assert "Start clock" not in page


def test_an_auditor_with_a_role_at_another_school_may_not_work_here(client, job, auditor, stranger):
    from inventory.models import StaffRole

    StaffRole.objects.create(user=auditor, role=Role.TECH, school=stranger.staff_roles.get().school)
    client.force_login(auditor)
    before = state_of_rows()
    assert client.post(address("do-step", job), answer(job)).status_code == 404
    assert state_of_rows() == before


def test_the_page_costs_the_same_with_few_findings_and_with_many(client, school, tech):
    client.force_login(tech)
    few = make_job(school=school, actor=tech, findings=[STUCK, LEAKING_CORK])
    slide = ("main_tuning_slide", "slide_seized", "severe")
    findings = [("third_valve_slide", "slide_seized", "severe"), (*slide, "", "pulled 9 mm"), LEAKING_CORK]
    many = make_job(school=school, actor=tech, bench=few.bench, findings=findings)
    cost = queries_of(client, address("job", few))
    # One asks whether its cost was refused, one what is in stock, one which figures are in force.
    assert cost == queries_of(client, address("job", many)) <= 13
    unmeasured = make_job(school=school, actor=tech, bench=few.bench, findings=[slide, *findings[::2]])
    assert queries_of(client, address("job", unmeasured)) == cost + 1  # where it was last played


def test_keeping_an_outcome_costs_a_known_number_of_queries(client, job):
    client.get(address("job", job))
    sent = answer(job)
    with CaptureQueriesContext(connection) as caught:
        assert client.post(address("do-step", job), sent).status_code == 302
    assert len(caught) <= 55


def test_a_part_from_the_drawer_is_booked_with_the_step(client, job):
    assert 'name="free_part"' not in client.get(address("job", job)).text
    stop = make_item(bench=job.bench, name="Slide <b>stop</b>", quantity="3")
    page = client.get(address("job", job)).text
    assert "Slide &lt;b&gt;stop&lt;/b&gt; (3 left)" in page
    sent = answer(job) | {"free_part": str(stop.pk), "free_count": "1"}
    for _ in range(2):
        assert client.post(address("do-step", job), sent).status_code == 302
    assert StockItem.objects.get(pk=stop.pk).quantity == 2


LATER = NOW + timedelta(hours=3)


def request_of(user):
    request = RequestFactory().get("/")
    request.user = user
    return request


def test_a_role_that_only_reads_here_does_not_work_here(school, tech, auditor):
    job = make_job(school=school, actor=tech)
    StaffRole.objects.create(user=auditor, role=Role.TECH, school=make_school())
    request = request_of(auditor)
    assert jobs_for(request, "repairs.view_job").get() == job
    with pytest.raises(Http404):
        job_or_404(request, job.pk, "repairs.do_step")


def test_the_job_is_read_anew(school, tech):
    job = make_job(school=school, actor=tech)
    give_up_job(job=job, because="Waits.", actor=tech, at=LATER)
    assert job.closed_at is None
    assert job_now(request_of(tech), job, "repairs.do_step").closed_at == LATER
