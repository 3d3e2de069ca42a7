"""What a phone carries names no student and nothing that people typed; marked words stand wherever one types."""

import json
import re
from uuid import uuid4

import pytest
from django.urls import reverse

from inventory.models import ListRemark, Purpose
from inventory.services.counts import open_count
from inventory.services.inspecting import answer_safety, record_finding, start_inspection
from repairs.models import Job
from tests.factories import NOW, make_inspection, make_instrument, make_student
from tests.loans.makers import make_loan
from tests.repairs.makers import make_job

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
    open_count(school=school, actor=director, at=NOW)
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
