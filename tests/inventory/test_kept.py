"""Every column of the register that somebody enters or corrects is kept with from and to."""

from __future__ import annotations

from django.db import models

from core.events import TEXTS
from inventory.columns import COLUMNS, TYPED, VALUES
from inventory.kept import KEPT
from inventory.models import Disposal, Donation, Instrument


def test_every_column_that_is_entered_is_kept_once():
    instrument, gift, disposal = KEPT
    entered = {column.name for column in COLUMNS if column.form} | {"kind_code"}
    assert set(instrument.values) | set(instrument.texts) == entered
    assert set(instrument.values) & set(instrument.texts) == set()
    columns = {field.name for field in Donation._meta.concrete_fields} - {"id", "instrument"}
    assert set(gift.values) | set(gift.texts) == columns
    # Who recorded it when, and how it ended, stand in its events themselves: inventory/traces.py.
    of_acts = {"id", "instrument", "custody", "recorded_at", "actor", "ended_at", "ended_by", "back_on", "was_wrong"}
    columns = {field.name for field in Disposal._meta.concrete_fields} - of_acts - {"ended_because"}
    assert set(disposal.values) | set(disposal.texts) == columns


def test_what_is_typed_freely_is_kept_as_text_and_what_is_chosen_or_counted_as_value():
    """An asset number is the district's own, and a kind is chosen: neither can name a person."""
    for kept in KEPT:
        for field in kept.model._meta.concrete_fields:
            is_free = isinstance(field, models.CharField | models.TextField) and not field.choices
            if field.name in {*kept.values, *kept.texts} - {"asset_number", "kind_code"}:
                assert is_free == (field.name in kept.texts), field.name


def test_the_declarations_say_which():
    assert TYPED == (
        "second_number", "serial", "maker", "model", "place", "funding_source", "award_number", "title_holder", "vendor",
        "order_number", "invoice_number", "notes",
    )  # fmt: skip
    assert VALUES["kind_code"] == "kind"
    assert all(name == said for name, said in VALUES.items() if name != "kind_code")


def test_names_of_columns_in_events_are_never_the_key_of_the_texts():
    assert TEXTS not in {said for kept in KEPT for said in kept.values.values()}


def test_a_place_is_the_instruments_own_thread_and_school():
    row = Instrument(pk=3, school_id=7)
    assert KEPT[0].place(row) == KEPT[1].place(Donation(instrument=row)) == ("instrument:3", 7)
