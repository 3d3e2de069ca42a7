from __future__ import annotations

from datetime import date

from inventory.models import Tag
from inventory.rules.verdict import EffectGroup
from repairs.pages.sheet import sheet_of
from repairs.selectors.planning import job_state
from tests.repairs.makers import LEAKING_CORK, STUCK, fresh, make_job

HOME = "https://horns.example.org/"
TODAY = date(2026, 9, 14)


def sheet(job):
    return sheet_of(job_state(fresh(job)), home=HOME, today=TODAY)


def test_the_sheet_holds_the_plan_in_order(school, tech):
    job = make_job(school=school, actor=tech, findings=[STUCK, LEAKING_CORK], because="From the loft")
    made, plan = sheet(job), job_state(fresh(job)).plan
    assert [step.say for step in made.steps] == [step.say for step in plan.steps]
    assert next(step for step in made.steps if step.after).where == "Third valve slide"
    assert any("water-key" in step.parts for step in made.steps)
    numbers = {code: number for number, code in enumerate((part.code for part in made.kind.parts), start=1)}
    assert [line.number for line in made.findings] == sorted(numbers[code] for code, *_ in (STUCK, LEAKING_CORK))
    assert made.cost_p80 >= made.cost_p50
    assert made.because == "From the loft"
    assert made.marks["third_valve_slide"].group in {EffectGroup.LIMITS, EffectGroup.STOPS}
    assert all(caution for _, caution in made.cautions)


def test_the_code_leads_to_the_tag_in_capitals(school, tech):
    job = make_job(school=school, actor=tech)
    token = Tag.objects.live().get(instrument=job.instrument, accessory=None).token
    assert sheet(job).tag_url == f"HTTPS://HORNS.EXAMPLE.ORG/T/{token}"


def test_an_instrument_without_a_tag_has_no_code(school, tech):
    job = make_job(school=school, actor=tech)
    Tag.objects.all().delete()
    assert sheet(job).tag_url == ""
