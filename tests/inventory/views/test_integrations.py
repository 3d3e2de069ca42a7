"""An administrator makes a token, sees it once, and revokes it."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.models import User
from inventory.models import Integration
from tests.inventory.makers import make_integration_row

PAGE = "inventory:integrations"
pytestmark = pytest.mark.page


def test_a_token_is_shown_once_reads_and_is_revoked(client, school, administrator):
    client.force_login(administrator)
    until = timezone.localdate() + timedelta(days=30)
    typed = {"name": "Asset list", "school": "", "scopes": ["fleet"], "expires_on": until.isoformat()}
    shown = client.post(reverse(PAGE), typed, follow=True).text
    token = re.search(r"<textarea[^>]*>([^<]+)</textarea>", shown).group(1)
    assert token not in client.get(reverse(PAGE)).text
    reader = Client(headers={"Authorization": f"Bearer {token}"})
    assert [one["code"] for one in reader.get("/api/schools").json()] == [school.code]
    client.post(reverse("inventory:revoke-integration", args=[Integration.objects.get().pk]))
    assert reader.get("/api/schools").status_code == 401
    assert "Asset list" not in client.get(reverse(PAGE)).text.partition("<h2>")[2]


def test_one_whose_maker_has_left_is_shown_as_stopped(client, administrator):
    row = make_integration_row(name="Asset list")
    client.force_login(administrator)
    assert "Stopped" not in client.get(reverse(PAGE)).text
    User.objects.filter(pk=row.made_by_id).update(is_active=False)
    assert f"Stopped: {row.made_by} may no longer make tokens." in " ".join(client.get(reverse(PAGE)).text.split())


@pytest.mark.parametrize(
    ("typed", "said"),
    [({"scopes": []}, "Choose what it may read."), ({"expires_on": "2020-01-01"}, "That day is over.")],
)
def test_what_is_refused_says_why_and_makes_none(client, administrator, typed, said):
    client.force_login(administrator)
    usual = {"name": "Asset list", "scopes": ["fleet"], "expires_on": "2099-01-01"}
    answer = client.post(reverse(PAGE), usual | typed)
    assert (answer.status_code, said in answer.text) == (422, True)
    assert not Integration.objects.exists()
