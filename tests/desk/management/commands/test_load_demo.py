"""The demo district: it loads, nothing in it contradicts itself, and the same seed and day give the same rows."""

from __future__ import annotations

import hashlib
import json

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.core.serializers.json import DjangoJSONEncoder
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from core.models import Event, User
from desk.demo.cast import PASSWORD
from desk.demo.counted import MONTHS
from desk.selectors.verifying import differences
from inventory.models import (
    Count,
    Custody,
    Disposal,
    Donation,
    FleetMonth,
    Instrument,
    Sample,
    Transfer,
    Verdict,
    Whereabouts,
)
from loans.models import Guardian, Loan, Student
from loans.selectors.ledger import ledger_differences
from repairs.models import Job
from tests.factories import TODAY, make_school


def load(**options):
    call_command("load_demo", today=TODAY, **options)


def digests():
    """Of every table of ours, all columns of all rows in the order of their keys."""
    found = {}
    for app in ("core", "inventory", "repairs", "loans"):
        for model in apps.get_app_config(app).get_models():
            rows = list(model._default_manager.order_by("pk").values())
            text = json.dumps(rows, cls=DjangoJSONEncoder, sort_keys=True)
            found[model.__name__] = (len(rows), hashlib.sha256(text.encode()).hexdigest())
    return found


def digests_of(media, settings, **options):
    """Load into empty tables and an empty folder, and undo it: a file name that is taken would get another."""
    media.mkdir()
    settings.MEDIA_ROOT = media
    mark = transaction.savepoint()
    load(**options)
    data = digests()
    transaction.savepoint_rollback(mark)
    return data


def personal_names():
    """Of everybody in the district: in full, and each part that is no everyday word."""
    people = [*User.objects.values_list("name", flat=True), *Student.objects.values_list("name", flat=True)]
    people += Guardian.objects.values_list("name", flat=True)
    people += Donation.objects.values_list("donor_name", flat=True)
    return {name for name in people if name} | {name.split()[-1] for name in people if " " in name and "-" in name}


@pytest.mark.drill  # three districts; the stages of tests/desk/demo run on every day
@pytest.mark.sqlite  # numbers of rows start over after a rollback, which PostgreSQL's sequences do not
def test_the_same_seed_and_day_give_the_same_rows(db, capsys, tmp_path, settings):
    one, other = (digests_of(tmp_path / name, settings, share=0.1, seed=5) for name in ("one", "other"))
    assert one == other
    assert one["Instrument"][0] > 6
    different = digests_of(tmp_path / "different", settings, share=0.1, seed=6)
    assert different["Instrument"] != one["Instrument"]


@pytest.mark.sqlite  # once is enough: the small stages of tests/desk/demo run on both databases
@pytest.mark.parametrize("share", [0.1, pytest.param(1, marks=pytest.mark.drill)])
def test_a_district_loads_and_nothing_contradicts_itself(share, db, capsys, client):
    load(share=share)
    count, found = differences()
    assert found == []
    assert list(ledger_differences()) == []
    assert {value for value, _ in Whereabouts.choices} >= set(Instrument.objects.values_list("whereabouts", flat=True))
    if share == 1:
        assert count == 241  # 222 a year ago, six from the loft, twelve delivered, one entered twice
        assert sorted(Disposal.objects.values_list("way", flat=True)) == ["error", "scrapped", "sold", "traded_in"]
        assert Transfer.objects.filter(is_agreed=True).count() == Transfer.objects.open().count() == 1
        assert Count.objects.signed().count() == Count.objects.open().count() == 1
        assert set(Instrument.objects.values_list("verdict", flat=True)) == set(Verdict)
        assert Loan.objects.open().count() > 60
        assert Loan.objects.overdue(today=TODAY).exists()
        assert Job.objects.open().count() == 6
    assert sorted(sample.is_finished for sample in Sample.objects.all()) == [False, True]
    assert FleetMonth.objects.order_by().values("ends_on").distinct().count() == MONTHS
    newest = Event.objects.latest("at")  # whoever looks at noon does not see this afternoon's acts
    assert timezone.localdate(newest.at) < TODAY
    assert not Custody.objects.filter(since__gt=newest.at).exists()
    data = capsys.readouterr().out
    for username in ("director", "tech", "auditor", "administrator"):
        assert username in data
        assert client.post(reverse("core:log-in"), {"username": username, "password": PASSWORD}).status_code == 302
        client.post(reverse("core:log-out"))
    log = json.dumps(list(Event.objects.values_list("before", "after")))
    assert {name for name in personal_names() if name in log} == set()


def test_a_database_that_is_in_use_is_left_alone(db):
    make_school()
    with pytest.raises(CommandError, match="not empty"):
        load()
    assert not Instrument.objects.exists()
