"""What a phone carries names no student and nothing that people typed; marked words stand wherever one types."""

import json
import re
from uuid import uuid4

import pytest
from django.urls import reverse

from inventory.models import Count, ListRemark, Purpose, Role, Sighting
from inventory.rules.counting import Outcome
from inventory.services.counts import open_count
from inventory.services.inspecting import answer_safety, record_finding, start_inspection
from repairs.models import Attempt, Job
from repairs.services.jobs import give_up_job
from tests.factories import NOW, make_inspection, make_instrument, make_student, make_user
from tests.loans.makers import make_loan
from tests.repairs.makers import make_job
from tests.repairs.money_makers import make_attempt

pytestmark = pytest.mark.django_db
MARKED = "Zephyrine Quill"
ASKED = {"HTTP_X_HELD": "1"}


@pytest.fixture
def carried(school, tech, director, client):
    """Log the tech in at a school whose student stands in every text that a page kept on the phone could show."""
    student = make_student(school=school, name=MARKED, guardian_name=f"Gale {MARKED}")
    lent = make_instrument(school=school, asset_number="TV-1")
    make_inspection(instrument=lent)
    make_loan(instrument=lent, student=student)
    job = make_job(school=school, actor=tech)
    Job.objects.filter(pk=job.pk).update(because=f"for {MARKED}")
    walked = make_instrument(school=school, asset_number="TV-2")
    ListRemark.objects.create(instrument=walked, said_at=NOW, text=f"was {MARKED}'s")
    walk = start_inspection(instrument=walked, purpose=Purpose.SPOT, actor=tech, at=NOW)
    answer_safety(inspection=walk, is_safe=True, actor=tech, at=NOW)
    record_finding(inspection=walk, part="bell", fault="dent_small", severity="light", note=MARKED, actor=tech, at=NOW)
    count = open_count(school=school, actor=director, at=NOW)
    Count.objects.filter(pk=count.pk).update(round=2, is_blind=False)
    for number in (1, 2):
        text = f"{MARKED} {number}"
        Sighting.objects.create(
            count=count, round=number, text=text, outcome=Outcome.UNKNOWN, seen_at=NOW, actor=director
        )
    client.force_login(tech, backend="core.access.RoleBackend")
    return client


def held_addresses(page: str) -> list[str]:
    links = re.findall(r"<a[^>]*data-hold=[^>]*>", page)
    return [re.search(r'href="([^"]+)"', link)[1] for link in links]


def test_no_page_that_a_phone_carries_names_a_student_or_brings_the_key(carried):
    home = carried.get(reverse("desk:offline"), **ASKED).content.decode()
    addresses = held_addresses(home)
    kinds = {re.sub(r"\d+|TV-\w+", "N", address) for address in addresses}
    assert {"/scan/", "/bench/N/", "/bench/N/prove/", "/counts/N/", "/instruments/walk/N/"} <= kinds
    for address in [reverse("desk:offline"), *addresses]:
        answer = carried.get(address, **ASKED)
        assert answer.status_code == 200, address
        page = answer.content.decode()
        assert "Zephyrine" not in page, address
        assert 'data-seal=""' in page, address
    walk = next(address for address in addresses if re.fullmatch(r"/instruments/walk/\d+/", address))
    assert MARKED in carried.get(walk).content.decode(), "it is on the page that is read with a signal"
    count = next(address for address in addresses if re.fullmatch(r"/counts/\d+/", address))
    again, _, seen = carried.get(count).content.decode().partition('id="running-head"')
    assert MARKED in again
    assert MARKED in seen


def test_a_job_that_closed_meanwhile_says_nothing_that_was_typed(carried, tech):
    job = make_attempt().job
    Attempt.objects.filter(job=job).update(note=MARKED)
    give_up_job(job=job, because=MARKED, actor=tech, at=NOW)
    carried.force_login(make_user(Role.TECH, school=job.instrument.school), backend="core.access.RoleBackend")
    address = reverse("repairs:job", args=[job.pk])
    assert carried.get(address).content.decode().count(MARKED) == 2
    assert MARKED not in carried.get(address, **ASKED).content.decode()


def test_what_an_act_said_waits_for_the_page_that_a_person_opens(carried):
    play_test = reverse("inventory:play-test", args=["TV-1"])
    carried.post(play_test, {"result": "pass", "nonce": str(uuid4())})
    for address in (reverse("desk:offline"), reverse("desk:scan")):
        assert "Play test saved" not in carried.get(address, **ASKED).content.decode()
    assert "Play test saved" in carried.get(reverse("desk:today")).content.decode()


def test_the_register_is_on_the_page_and_leads_to_the_walk_of_its_build(carried):
    page = carried.get(reverse("desk:offline")).content.decode()
    lines = json.loads(re.search(r'<script id="register"[^>]*>(.*?)</script>', page)[1])
    line = next(line for line in lines if line["number"] == "TV-1")
    assert line["walk"] in held_addresses(page)
