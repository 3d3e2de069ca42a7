"""What a scan means, and the rows of a sheet."""

from __future__ import annotations

import pytest

from desk.selectors.counting import counters_of, scan_of, sheet_rows
from inventory.services.registering import issue_tag, revoke_tag
from tests.factories import NOW, make_instrument, make_school
from tests.inventory.count_makers import make_count

pytestmark = pytest.mark.django_db


def test_a_label_means_its_instrument_whatever_school_it_is_of(school, director):
    here = make_instrument(school=school, asset_number="TV-0019", second_number="Dist-41", serial="771")
    there = make_instrument(school=make_school(), asset_number="PG-7")
    tag = here.tags.get()
    part = issue_tag(instrument=here, accessory=here.accessories.first(), actor=director, at=NOW)
    for text in ("tv19", "DIST-41", "771", "19", f"HTTPS://X/T/{tag.token}"):
        assert scan_of(director, text).instrument == here, text
    assert scan_of(director, "pg-7").instrument == there
    assert scan_of(director, part.token).accessory == part.accessory
    assert scan_of(director, "41").instrument is None
    revoke_tag(tag=tag, actor=director, at=NOW, because="lost")
    assert scan_of(director, tag.token).instrument is None


def test_a_sheet_has_what_was_expected_and_what_else_was_seen(school):
    count = make_count(school=school, is_signed=True)
    rows = list(sheet_rows(count))
    assert [(str(row.outcome), row.difference is not None) for row in rows] == [("found", False), ("unknown", True)]
    assert counters_of(count) == [count.opened_by.name]
