from datetime import timedelta

import pytest
from axes.models import AccessAttempt, AccessLog
from django.apps import apps

from core.forgetting import COUNTED, EXPIRING, TRIES_KEPT_FOR, forget_tries
from core.models import OneTimeLink
from tests.factories import NOW, make_user

pytestmark = pytest.mark.django_db


def test_old_log_ins_and_tries_go_and_recent_ones_stay():
    for model in (AccessAttempt, AccessLog):
        for number, age in enumerate((TRIES_KEPT_FOR + timedelta(minutes=1), TRIES_KEPT_FOR - timedelta(minutes=1))):
            fields = {"failures_since_start": 1} if model is AccessAttempt else {}
            row = model.objects.create(username=f"n{number}", ip_address="192.0.2.1", user_agent="", **fields)
            model.objects.filter(pk=row.pk).update(attempt_time=NOW - age)
    assert forget_tries(at=NOW) == 2
    assert [model.objects.get().username for model in (AccessAttempt, AccessLog)] == ["n1", "n1"]


def test_links_that_nobody_used_in_time_go():
    user = make_user()
    for number in (1, -1):
        OneTimeLink.objects.create(
            user=user, token_hash=str(number), made_at=NOW, expires_at=NOW + timedelta(minutes=number)
        )
    assert forget_tries(at=NOW) == 1
    assert OneTimeLink.objects.get().token_hash == "1"


def test_every_model_that_keeps_tries_is_named():
    kept = {model._meta.label for model in apps.get_app_config("axes").get_models()}
    kept.discard("axes.AccessAttemptExpiration")  # goes with its try
    assert kept <= COUNTED.keys() | EXPIRING.keys()
