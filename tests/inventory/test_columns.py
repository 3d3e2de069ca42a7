"""Every column of an instrument is declared, and the declarations fit each other and the model."""

from __future__ import annotations

from collections import Counter

import pytest
from django.db import models

from core.access import TABLE
from inventory.columns import BY_NAME, COLUMNS, HEADINGS, IN_LISTS, LIST_ONLY, NOT_SHOWN, TELLING_WORDS, Column
from inventory.models import Instrument
from inventory.rules.intake.headings import normal_heading


def test_the_model_and_the_declarations_agree():
    assert Instrument.check() == []


def test_a_column_that_is_not_declared_fails_the_check(monkeypatch):
    monkeypatch.delitem(BY_NAME, "title_holder")
    (error,) = Instrument.check()
    assert error.id == "inventory.E001"
    assert "title_holder" in error.msg


def test_a_declaration_without_a_column_fails_the_check(monkeypatch):
    monkeypatch.setitem(BY_NAME, "lacquer", COLUMNS[0])
    (error,) = Instrument.check()
    assert error.id == "inventory.E002"


def test_what_is_not_shown_is_not_declared_as_well():
    assert NOT_SHOWN & set(BY_NAME) == set()


def test_no_heading_stands_for_two_columns():
    words = Counter(word for texts in HEADINGS.values() for word in {normal_heading(text) for text in texts})
    assert [word for word, count in words.items() if count > 1] == []


def test_stored_choices_of_columns_go_on_meaning_the_same():
    """What a school confirmed is stored by these words (inventory.ColumnMemory); new ones may be added."""
    assert set(IN_LISTS) >= {
        "asset_number", "kind", "level", "maker", "model", "serial", "year_made", "size", "valves", "key",
        "acquired_by", "acquired_on", "cost", "funding_source", "award_number", "federal_share", "title_holder",
        "donor", "school", "room", "condition", "accessories", "notes", "whereabouts", "student", "value", "quantity",
    }  # fmt: skip


def test_every_code_stands_for_one_column():
    keys = [column.key for column in (*COLUMNS, *LIST_ONLY) if column.reads]
    assert len(keys) == len(set(keys))
    assert {code for code, _ in TELLING_WORDS} <= set(keys)


@pytest.mark.parametrize("column", COLUMNS, ids=lambda column: column.name)
def test_typed_words_are_text_and_permissions_exist(column):
    stored = Instrument._meta.get_field(column.name)
    assert column.permission in TABLE
    assert column.log != "typed" or isinstance(stored, models.CharField | models.TextField)


def test_a_new_column_counts_as_typed_until_somebody_says_what_else_it_is():
    assert Column("finish", "Finish").log == "typed"
