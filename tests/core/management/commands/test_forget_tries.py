import io

import pytest
from django.core.management import call_command

from core.models import LogInTry
from tests.factories import NOW


def said(*options):
    out = io.StringIO()
    call_command("forget_tries", *options, stdout=out)
    return out.getvalue()


@pytest.mark.django_db
def test_it_says_how_many_went():
    assert said() == "Rows of old tries and links deleted: 0.\n"


@pytest.mark.django_db
def test_whoever_has_to_wait_can_be_let_in_at_once(client, director, settings):
    typed = {"username": "director", "password": "wrong"}
    statuses = [client.post("/log-in/", typed).status_code for _ in range(settings.LOG_IN_TRIES + 1)]
    assert statuses[-1] == 429
    assert said("--now") == f"Nobody has to wait now; tries deleted: {settings.LOG_IN_TRIES}.\n"
    assert client.post("/log-in/", typed).status_code == 200
    assert LogInTry.objects.filter(at__gt=NOW).count() == 1
