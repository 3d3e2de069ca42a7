"""Each form that makes something, posted twice: it is made once, and both lead to it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.db import models
from django.urls import reverse

from core.models import User
from inventory.models import Role, School
from repairs.models import Bench, Job, RepairBudget, Shop
from tests.factories import make_bench, make_ready_instrument, make_user

pytestmark = pytest.mark.django_db

FORMS: dict[str, tuple[type[models.Model], str, dict[str, Any]]] = {
    "inventory:schools": (School, Role.ADMINISTRATOR, {"code": "FIR", "name": "Fir"}),
    "inventory:people": (User, Role.ADMINISTRATOR, {"name": "Kit", "username": "kit", "role": Role.AUDITOR}),
    "repairs:add-shop": (Shop, Role.DIRECTOR, {"name": "Brass and Reed"}),
    "repairs:add-bench": (
        Bench, Role.ADMINISTRATOR, {"code": "north", "name": "North", "rate_amount": "30", "school": "SCHOOL"},
    ),
    "repairs:add-budget": (
        RepairBudget, Role.DIRECTOR,
        {"fund": "Band", "begins_on": "2026-07-01", "ends_on": "2027-06-30", "amount": "500", "school": "SCHOOL"},
    ),
    "repairs:open-job": (Job, Role.DIRECTOR, {"bench": "BENCH"}),
}  # fmt: skip


@pytest.mark.parametrize("name", sorted(FORMS))
def test_a_form_posted_twice_makes_one_row_and_leads_to_it_twice(name, client, school):
    model, role, typed = FORMS[name]
    bench = make_bench(school=school) if name == "repairs:open-job" else None
    asked = [make_ready_instrument(school=school).asset_number] if bench else []
    client.force_login(make_user(role, school=None if role == Role.ADMINISTRATOR else school))
    page = reverse(name, args=asked)
    nonce = re.search(r'name="nonce" value="([0-9a-f-]{36})"', client.get(page).text)
    assert nonce, "the page carries no key"
    codes = {"SCHOOL": school.pk, "BENCH": bench.code if bench else ""}
    body = {field: codes.get(value, value) for field, value in typed.items()} | {"nonce": nonce[1]}
    before = model.objects.count()
    answers = [client.post(page, body) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert answers[0].headers["Location"] == answers[1].headers["Location"]
    assert model.objects.count() == before + 1
