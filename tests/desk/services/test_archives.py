"""An archive in the log."""

from __future__ import annotations

from core.models import Event
from desk.services.archives import note_archive
from inventory.models import District
from tests.factories import NOW


def test_the_log_holds_what_is_said_of_an_archive(school, auditor):
    note_archive(district=District.objects.get(), details={"sha256": "ab"}, actor=auditor, at=NOW)
    event = Event.objects.get(act="archive_made")
    assert (event.actor, event.after, event.at) == (auditor, {"sha256": "ab"}, NOW)
