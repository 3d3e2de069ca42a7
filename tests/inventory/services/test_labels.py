from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.models import Event
from inventory.models import Instrument, Tag
from inventory.services.labels import issue_missing_tags, note_printed
from tests.factories import NOW, make_instrument, make_school
from tests.opening import differences

pytestmark = pytest.mark.django_db


def test_each_gets_a_tag_and_an_event(school, director):
    for _ in range(2):
        make_instrument(school=school, issue_tag_too=False)
    with CaptureQueriesContext(connection) as asked:
        assert issue_missing_tags(instruments=Instrument.objects.all(), actor=director, at=NOW) == 2
    assert sum("inventory_tag" in one["sql"] for one in asked) == 2, "those that are there, and the new ones"
    assert Tag.objects.live().count() == 2
    events = Event.objects.filter(act="tag_issued")
    assert {event.after["tag"] for event in events} == set(Tag.objects.values_list("pk", flat=True))
    assert {(event.tenant, event.actor) for event in events} == {(school.pk, director)}
    assert differences() == (2, [])


def test_a_print_is_noted_once_for_the_lot(school, director):
    for _ in range(3):
        make_instrument(school=school)
    tags = list(Tag.objects.select_related("instrument"))
    note_printed(tags=tags, sheet="30up", actor=director, at=NOW)
    event = Event.objects.get(act="labels_printed")
    assert (event.tenant, event.after) == (school.pk, {"tags": [tag.pk for tag in tags], "sheet": "30up"})
    assert {tag.printed_at for tag in Tag.objects.all()} == {NOW}


def test_a_print_over_several_schools_belongs_to_none_alone(director):
    for _ in range(2):
        make_instrument(school=make_school())
    note_printed(tags=list(Tag.objects.select_related("instrument")), sheet="30up", actor=director, at=NOW)
    assert Event.objects.get(act="labels_printed").tenant is None


def test_nothing_printed_is_not_noted(director):
    note_printed(tags=[], sheet="30up", actor=director, at=NOW)
    assert not Event.objects.exists()
