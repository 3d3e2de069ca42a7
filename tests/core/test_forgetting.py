from datetime import timedelta

import pytest
from django.apps import apps
from django.db import models

from core.caps import KNOWN, STRANGE
from core.forgetting import COUNTED, EXPIRING, TRIES_KEPT_FOR, forget_tries
from core.models import LogInTry, OneTimeLink
from tests.factories import NOW, make_user

pytestmark = pytest.mark.django_db


def test_old_tries_go_and_recent_ones_stay():
    assert max(cap.within for cap in (*KNOWN, *STRANGE)) < TRIES_KEPT_FOR, "what is still counted stays"
    for number, age in enumerate((TRIES_KEPT_FOR + timedelta(minutes=1), TRIES_KEPT_FOR - timedelta(minutes=1))):
        LogInTry.objects.create(name=f"n{number}", at=NOW - age)
    assert forget_tries(at=NOW) == 1
    assert LogInTry.objects.get().name == "n1"


def test_links_that_nobody_used_in_time_go():
    user = make_user()
    for number in (1, -1):
        OneTimeLink.objects.create(
            user=user, token_hash=str(number), made_at=NOW, expires_at=NOW + timedelta(minutes=number)
        )
    assert forget_tries(at=NOW) == 1
    assert OneTimeLink.objects.get().token_hash == "1"


def test_every_model_that_keeps_from_where_somebody_came_is_named():
    kept = {
        model._meta.label
        for model in apps.get_models()
        for column in model._meta.get_fields()
        if isinstance(column, models.GenericIPAddressField) or column.name in {"ip_address", "network", "user_agent"}
    }
    assert kept == {"core.LogInTry"}
    assert kept <= COUNTED.keys() | EXPIRING.keys()
