"""Which fields of the property record are missing: 2 CFR 200.313(d)(1), revision of 2024."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from inventory.models import Instrument, School
from inventory.selectors.property import ALL, ANY, MISSING, RULED, held, missing_counts, with_missing
from tests.factories import TODAY, make_instrument, make_ready_instrument, make_room
from tests.inventory.leaving_makers import make_disposal

pytestmark = pytest.mark.django_db
WHOLE = {
    "funding_source": "Title IV-A", "award_number": "S424A250001", "awarded_on": date(2025, 1, 1),
    "acquired_on": date(2025, 8, 1), "acquisition_cost_amount": Decimal(6500), "federal_percent": Decimal(60),
    "vendor": "Plain Music", "order_number": "PO-1", "warranty_until": date(2030, 8, 1),
    "replacement_amount": Decimal(7000),
}  # fmt: skip


def counts(**narrowed):
    return missing_counts(School.objects.all(), today=TODAY, **({"scope": "all"} | narrowed))


def make_whole(school, **fields):
    return make_ready_instrument(school=school, room=make_room(school=school), **(WHOLE | fields))


def test_a_whole_record_lacks_nothing(school):
    make_whole(school)
    found = counts()
    assert (found[ALL], found[ANY]) == (1, 0)
    assert not any(found[code] for code in MISSING)


@pytest.mark.parametrize(
    ("fields", "codes"),
    [
        ({"funding_source": ""}, {"funding"}),
        ({"award_number": ""}, {"award"}),
        ({"awarded_on": None}, {"award_date"}),
        ({"acquired_on": None}, {"acquired"}),
        ({"acquisition_cost_amount": None}, {"cost"}),
        ({"federal_percent": None}, {"percent"}),
        ({"federal_percent": None, "award_number": "", "awarded_on": None}, set()),  # no award
        ({"federal_percent": Decimal(0), "award_number": "", "awarded_on": None}, set()),  # no award, no number of one
        ({"serial": ""}, {"serial"}),
        ({"vendor": ""}, {"vendor"}),
        ({"order_number": ""}, {"invoice"}),
        ({"warranty_until": None}, {"warranty"}),
        ({"replacement_amount": None}, {"price"}),
    ],
)
def test_each_missing_field_is_counted_and_leads_to_its_row(school, fields, codes):
    row = make_whole(school, **fields)
    found = counts()
    assert {code for code in MISSING if found[code]} == codes
    assert found[ANY] == bool(codes & set(RULED))
    for code in codes:
        assert list(held(Instrument.objects.all(), scope="all", without=code)) == [row]
    (said,) = with_missing(Instrument.objects.all())
    assert {code for code in RULED if getattr(said, f"lacks_{code}")} == codes & set(RULED)


def test_location_and_condition_are_facts(school):
    make_instrument(school=school, **WHOLE)
    found = counts()
    assert (found["location"], found["condition"], found[ANY]) == (1, 1, 1)


def test_only_what_a_federal_award_paid_for_and_only_what_is_held(school):
    federal = make_whole(school)
    make_whole(school, federal_percent=Decimal(0))
    make_disposal(make_whole(school), market_amount=Decimal(100))
    assert list(held(Instrument.objects.all(), scope="federal")) == [federal]
    Instrument.objects.filter(pk=make_whole(school).pk).update(is_retired=True)
    assert [counts(scope=scope)[ALL] for scope in ("all", "federal", "in_use")] == [3, 2, 2]
