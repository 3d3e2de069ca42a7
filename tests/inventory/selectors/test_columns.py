"""Declared columns on the instrument's page and in the export, as far as somebody may see them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from inventory.columns import BY_NAME, COLUMNS
from inventory.models import Instrument, Role, StaffRole
from inventory.selectors import columns
from inventory.selectors.columns import columns_for, export_header, export_rows, facts_of
from tests.factories import TODAY, make_instrument, make_ready_instrument, make_room, make_school

pytestmark = pytest.mark.django_db


@pytest.fixture
def secret_model(monkeypatch):
    """The model's name may be seen by those who may see donors."""
    declared = tuple(
        replace(column, permission="inventory.view_donor") if column.name == "model" else column for column in COLUMNS
    )
    monkeypatch.setattr(columns, "COLUMNS", declared)
    return declared


def test_an_exported_row_has_a_value_for_each_heading(school):
    make_ready_instrument(
        school=school,
        kind_code="euphonium",
        options={"valves": "3"},
        notes="from the loft",
        room=make_room(school=school, name="Loft"),
        acquired_by="bought",
        acquired_on=date(2019, 8, 1),
        acquisition_cost_amount=Decimal("512.50"),
    )
    (row,) = export_rows(Instrument.objects.all(), columns=COLUMNS, today=TODAY)
    line = dict(zip(export_header(COLUMNS), row, strict=True))
    assert (line["Kind"], line["Room"], line["Readiness"]) == ("Euphonium", "Loft", "May go out")
    assert "valves: 3" in line["Options"]
    assert (line["Notes"], line["School"]) == ("from the loft", school.name)
    assert (line["Acquired on"], line["Cost"]) == (date(2019, 8, 1), Decimal("512.50"))
    assert line["Acquired by"] == "Bought"


def test_options_are_exported_by_their_labels(school):
    make_instrument(school=school, kind_code="flute", options={"keys_open": "open hole"})
    ((options,),) = export_rows(Instrument.objects.all(), columns=(BY_NAME["options"],), today=TODAY)
    assert options == "head joint: straight; key cups: open hole"


def test_the_replacement_cost_is_never_empty_and_says_whose_figure_it_is(school):
    make_instrument(school=school, asset_number="A-1", replacement_amount=Decimal(777))
    make_instrument(school=school, asset_number="A-2")  # trumpet, 400 to 900
    columns = (BY_NAME["replacement_amount"],)
    assert export_header(columns) == ("Replacement cost", "Replacement cost basis")
    assert list(export_rows(Instrument.objects.all(), columns=columns, today=TODAY)) == [
        (Decimal("777.00"), "as entered"),
        (Decimal("650.00"), "midpoint of the kind's price range"),
    ]


def test_readiness_is_that_of_the_day(school):
    instrument = make_ready_instrument(school=school)
    Instrument.objects.filter(pk=instrument.pk).update(ready_until=date(2020, 1, 1))
    (row,) = export_rows(Instrument.objects.all(), columns=(BY_NAME["readiness"],), today=TODAY)
    assert row == ("Stays in",)


def test_facts_show_options_dates_and_what_is_missing(school, director):
    instrument = make_instrument(school=school, serial="", acquired_on=date(2019, 8, 1), title_holder="Band boosters")
    facts = dict(facts_of(instrument, user=director))
    assert facts["Serial"] == "none"
    assert facts["Acquired on"] == "Aug 1, 2019"
    assert facts["Title holder"] == "Band boosters"
    assert {option.name for option in instrument.kind.options} <= set(facts)
    assert not {"Cost", "Notes", "Award number", "School"} & set(facts)


def test_a_column_is_shown_only_to_those_who_may_see_it(school, director, tech, secret_model):
    instrument = make_instrument(school=school, maker="Plain", model="Sonata")
    assert dict(facts_of(instrument, user=director))["Maker and model"] == "Plain Sonata"
    assert dict(facts_of(instrument, user=tech))["Maker and model"] == "Plain"


def test_a_column_is_exported_only_when_it_may_be_seen_at_every_school(school, director, tech, secret_model):
    assert "model" not in [column.name for column in columns_for(tech)]
    assert "model" in [column.name for column in columns_for(director)]
    StaffRole.objects.create(user=director, role=Role.TECH, school=make_school())
    assert "model" not in [column.name for column in columns_for(type(director).objects.get(pk=director.pk))]
