"""Each form that makes something, posted twice: it is made once, and both lead to it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from django.urls import reverse
from django.utils import timezone

from core.models import Event, User
from inventory.models import (
    ChartConfirmation,
    Donation,
    Figure,
    ImportBatch,
    Photo,
    Role,
    Room,
    School,
    StaffRole,
)
from inventory.selectors.charts import chart_lines
from loans.models import AgreementTerms
from repairs.models import Bench, CareDone, Job, RepairBudget, Shop
from tests.factories import make_bench, make_instrument, make_ready_instrument, make_terms, make_user
from tests.pictures import jpeg

pytestmark = pytest.mark.django_db


@dataclass(frozen=True, kw_only=True)
class Posted:
    """A form on a page: what it makes, who sends it, and what they type. Words in capitals stand for rows."""

    makes: type[models.Model]
    role: str
    typed: dict[str, Any] = field(default_factory=dict)
    about: Callable[[School], list[Any]] = lambda _: []  # the arguments of the address
    page: str = ""  # where it stands, if that is not where it is sent
    files: Callable[[], dict[str, SimpleUploadedFile]] = dict
    changed: Callable[[], object] = lambda: (
        None
    )  # between the two, so that what is there already does not stop the second


def an_instrument(school: School) -> list[str]:
    return [make_instrument(school=school, kind_code="trumpet", asset_number="CF-0700").asset_number]


def terms_in_force(_: School) -> list[str]:
    make_terms(version=1)
    return []


def one_due(school: School) -> list[str]:
    make_ready_instrument(school=school, at=timezone.now() - timedelta(days=1500))
    return [school.code, "trumpet"]


def an_open_chart(_: School) -> list[str]:
    return [next(line.chart.code for line in chart_lines() if line.is_open)]


def a_picture() -> dict[str, SimpleUploadedFile]:
    return {"photo": SimpleUploadedFile("bell.jpg", jpeg(), "image/jpeg")}


def a_list() -> dict[str, SimpleUploadedFile]:
    return {"file": SimpleUploadedFile("list.csv", b"Instrument,Serial\nTrumpet,1\n", "text/csv")}


ADMINISTRATOR, DIRECTOR = Role.ADMINISTRATOR, Role.DIRECTOR
FORMS: dict[str, Posted] = {
    "inventory:schools": Posted(makes=School, role=ADMINISTRATOR, typed={"code": "FIR", "name": "Fir"}),
    "inventory:school": Posted(
        makes=Room, role=ADMINISTRATOR, about=lambda school: [school.code], typed={"room": "Cage 2"},
        changed=lambda: Room.objects.update(name="Cage 3"),
    ),
    "inventory:people": Posted(
        makes=User, role=ADMINISTRATOR, typed={"name": "Kit", "username": "kit", "role": Role.AUDITOR}
    ),
    "inventory:give-role": Posted(
        makes=StaffRole, role=ADMINISTRATOR, about=lambda school: [make_user(Role.TECH, school=school).pk],
        page="inventory:person", typed={"role": Role.AUDITOR},
        changed=lambda: StaffRole.objects.filter(role=Role.AUDITOR).update(role=Role.TECH),
    ),
    "inventory:figure": Posted(
        makes=Figure, role=ADMINISTRATOR, about=lambda _: ["set_up_minutes"],
        typed={"value": "9", "effective_on": "TODAY"}, changed=lambda: Figure.objects.update(value="8"),
    ),
    "inventory:confirm-chart": Posted(
        makes=ChartConfirmation, role=ADMINISTRATOR, about=an_open_chart, page="inventory:chart",
        typed={"digest": "DIGEST"}, changed=lambda: ChartConfirmation.objects.update(digest="of another"),
    ),
    "inventory:photos": Posted(
        makes=Photo, role=DIRECTOR, about=an_instrument, typed={"caption": "Bell"}, files=a_picture,
        changed=lambda: Photo.objects.update(sha256="0" * 64),
    ),
    "inventory:donation": Posted(
        makes=Donation, role=DIRECTOR, about=an_instrument, typed={"donor_name": "A. Giver", "received_on": "TODAY"},
        changed=lambda: Donation.objects.update(donor_name="Put right"),
    ),
    "inventory:import": Posted(
        makes=ImportBatch, role=DIRECTOR, typed={"school": "SCHOOL"}, files=a_list,
        changed=lambda: ImportBatch.objects.update(sha256="0" * 64),
    ),
    "loans:change-terms": Posted(
        makes=AgreementTerms, role=ADMINISTRATOR, about=terms_in_force, typed={"text": "Bring it back.", "seen": "1"},
        changed=lambda: AgreementTerms.objects.update(text="As they were."),
    ),
    "repairs:care-done": Posted(
        makes=CareDone, role=DIRECTOR, about=one_due, page="repairs:care-day",
        typed={"code": "CARE", "instruments": "INSTRUMENT", "done_on": "TODAY"},
    ),
    "repairs:add-shop": Posted(makes=Shop, role=DIRECTOR, typed={"name": "Brass and Reed"}),
    "repairs:add-bench": Posted(
        makes=Bench, role=ADMINISTRATOR,
        typed={"code": "north", "name": "North", "rate_amount": "30", "school": "SCHOOL"},
    ),
    "repairs:add-budget": Posted(
        makes=RepairBudget, role=DIRECTOR,
        typed={"fund": "Band", "begins_on": "2026-07-01", "ends_on": "2027-06-30", "amount": "500", "school": "SCHOOL"},
    ),
    "repairs:open-job": Posted(
        makes=Job, role=DIRECTOR, about=lambda school: [make_ready_instrument(school=school).asset_number],
        typed={"bench": "BENCH"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(FORMS))
def test_a_form_posted_twice_makes_one_row_and_leads_to_it_twice(name, client, school):
    form = FORMS[name]
    bench = make_bench(school=school)
    args = form.about(school)
    client.force_login(make_user(form.role, school=None if form.role == ADMINISTRATOR else school))
    page = client.get(reverse(form.page or name, args=args)).text
    nonce = re.search(r'name="nonce" value="([0-9a-f-]{36})"', page)
    assert nonce, "the page carries no key"
    codes = {"SCHOOL": school.pk, "BENCH": bench.code, "TODAY": timezone.localdate().isoformat()}
    for word, name_of in {"DIGEST": "digest", "CARE": "code", "INSTRUMENT": "instruments"}.items():
        if shown := re.search(rf'name="{name_of}"\s+value="([^"]+)"', page):
            codes[word] = shown[1]
    body = {typed: codes.get(value, value) for typed, value in form.typed.items()} | {"nonce": nonce[1]}
    before = form.makes.objects.count()
    answers, events = [], []
    for _ in range(2):
        answers.append(client.post(reverse(name, args=args), body | form.files()))
        events.append(Event.objects.count())
        form.changed()
    assert [answer.status_code for answer in answers] == [302, 302]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert form.makes.objects.count() == before + 1
    assert events[0] == events[1], "the second was an act of its own"
