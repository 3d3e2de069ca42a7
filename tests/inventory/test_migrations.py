"""What a migration carries over is there afterwards."""

from __future__ import annotations

import uuid
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core.events import TEXTS, broken_links
from core.models import Event, PostedForm, Revision
from core.revisions import row_differences, text_differences
from inventory.models import Donation, Instrument
from inventory.services.registering import change_instrument
from tests.factories import NOW, make_director, make_inspection, make_instrument
from tests.migrating import migrate_to, newest_afterward

BEFORE = ("inventory", "0003_call_the_cost_of_a_row_as_its_column_is_called")
AFTER = ("inventory", "0004_taps_are_posted_forms")


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_taps_that_were_taken_stay_taken_when_they_become_posted_forms(request):
    newest = newest_afterward(request)
    walk, key = make_inspection(instrument=make_instrument(), finish=False), uuid.uuid4()
    old = migrate_to(BEFORE)
    old.get_model("inventory", "Tap").objects.create(inspection_id=walk.pk, key=key, taken_at=NOW)
    migrate_to(AFTER)
    assert [str(row.key) for row in migrate_to(BEFORE).get_model("inventory", "Tap").objects.all()] == [str(key)]
    migrate_to(*newest)
    form = PostedForm.objects.get(service="take_tap")
    assert (form.key, form.about) == (str(key), f"inspection=inventory.inspection:{walk.pk}")


UNTOLD = ("inventory", "0021_figures_and_first_day")
TOLD = ("inventory", "0022_opening_events")


def old_rows(count, *, first=0):
    """Rows as they were before events told of their values."""
    apps = migrate_to(UNTOLD)
    school = apps.get_model("inventory", "School").objects.get_or_create(code="OLD", defaults={"name": "Old"})[0]
    for number in range(first, first + count):
        row = apps.get_model("inventory", "Instrument").objects.create(
            asset_number=f"OLD-{number}", kind_code="trumpet", school=school, registered_at=NOW, serial=f"S{number}",
            maker="Vale", acquisition_cost_amount=Decimal("467.5"), acquired_on=date(2008, 11, 1), notes="♭ dent",
            options={"third_slide": "ring"}, funding_source="Boosters", federal_percent=Decimal(50),
        )  # fmt: skip
        apps.get_model("inventory", "Donation").objects.create(
            instrument=row, donor_name="A Giver", received_on=date(2026, 9, 1), history="From a loft."
        )


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_every_row_of_old_is_told_once_and_what_follows_follows_from_that(request):
    newest = newest_afterward(request)
    told = make_instrument(notes="told before")
    old_rows(3)
    migrate_to(*newest)
    assert [*row_differences(), *text_differences(), *broken_links()] == []
    openings = Event.objects.filter(act="opening", subject_type="inventory.instrument")
    assert openings.count() == Instrument.objects.count() == 4
    row = Instrument.objects.get(asset_number="OLD-1")
    event = openings.get(subject_id=row.pk)
    assert (event.thread, event.tenant, event.actor) == (row.thread, row.school_id, None)
    assert event.after == {
        "asset_number": "OLD-1", "kind": "trumpet", "level": "student", "options": {"third_slide": "ring"},
        "school": row.school_id, "acquired_by": "unknown", "acquired_on": "2008-11-01", "federal_percent": "50.00",
        "acquisition_cost_amount": "467.50", TEXTS: event.after[TEXTS],
    }  # fmt: skip
    texts = dict(Revision.objects.filter(number=event.number).values_list("column", "after"))
    assert texts == {"serial": "S1", "maker": "Vale", "notes": "♭ dent", "funding_source": "Boosters"}
    gift = Event.objects.get(act="opening", subject_id=Donation.objects.get(instrument=row).pk, thread=row.thread,
                             subject_type="inventory.donation")  # fmt: skip
    assert gift.after["received_on"] == "2026-09-01"
    director = make_director(school=row.school)
    change_instrument(instrument=row, actor=director, at=NOW, serial="S9", acquisition_cost_amount=Decimal(500))
    change_instrument(instrument=told, actor=director, at=NOW, notes="")
    assert [*row_differences(), *text_differences(), *broken_links()] == []
    Instrument.objects.filter(pk=row.pk).update(acquisition_cost_amount=1)
    assert len(list(row_differences())) == 1


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_twice_as_many_rows_cost_as_many_statements(request):
    newest, counts = newest_afterward(request), []
    make_instrument()  # with the first event
    for number in (2, 4):
        old_rows(number, first=10 * number)
        with CaptureQueriesContext(connection) as asked:
            migrate_to(TOLD)
        counts.append(sum(("core_event" in one["sql"] or "core_revision" in one["sql"]) for one in asked))
    assert counts[0] == counts[1]
    migrate_to(*newest)
    assert [*row_differences(), *text_differences(), *broken_links()] == []
