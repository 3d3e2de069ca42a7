"""Who took what along stands in the log."""

from __future__ import annotations

import pytest
from django.urls import reverse

from core.models import Event
from core.services.exports import note_export
from tests.factories import NOW, make_instrument

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("of_one_school", [True, False])
def test_an_export_is_an_event_of_its_school_or_of_the_district(director, school, of_one_school):
    tenant = school.pk if of_one_school else None
    note_export(what="loans", form="pdf", rows=31, school=tenant, actor=director, at=NOW)
    event = Event.objects.get(act="exported")
    assert (event.actor, event.at, event.tenant) == (director, NOW, tenant)
    assert event.subject_id == str(director.pk)
    assert event.after == {"what": "loans", "form": "pdf", "rows": 31}


def test_every_file_is_noted_in_the_log_without_what_was_searched(client, director, school):
    make_instrument(school=school, maker="Vale")
    client.force_login(director)
    client.get(f"{reverse('inventory:export', args=['csv'])}?q=vale")
    event = Event.objects.get(act="exported")
    assert (event.actor, event.tenant) == (director, school.pk)
    assert event.after == {"what": "instruments", "form": "csv", "rows": 1}
    assert client.get(reverse("inventory:export", args=["pdf"])).status_code == 404
    assert Event.objects.filter(act="exported").count() == 1
