"""The data dictionary is read from the models, and says what they say."""

from __future__ import annotations

import pytest
from django.db import models

from core.models import Event, User
from desk.management.dictionary import (
    NOBODY,
    WORDS,
    as_markdown,
    comments_in,
    lines_of,
    meaning_of,
    our_models,
    permission_of,
    seen_by,
    type_words,
    unit_of,
)
from inventory.models import Disposal, Finding, Instrument, Lock
from loans.models import Loan, Student


def test_every_table_and_column_is_there_with_a_meaning():
    page = as_markdown()
    for model in our_models():
        assert f"## {model._meta.label}\n" in page
        lines = list(lines_of(model))
        assert [line.name for line in lines] == [field.name for field in model._meta.local_concrete_fields]
        assert all(line.type and line.meaning and line.seen_by for line in lines)


def test_no_meaning_is_of_a_column_that_is_gone():
    there = {model._meta.label: {field.name for field in model._meta.local_concrete_fields} for model in our_models()}
    assert WORDS.keys() <= there.keys()
    assert {label: gone for label, words in WORDS.items() if (gone := words.keys() - there[label])} == {}


@pytest.mark.parametrize(
    ("field", "words"),
    [
        (models.CharField(max_length=8), "text (at most 8)"),
        (models.CharField(max_length=8, blank=True), "text (at most 8); may be empty"),
        (
            models.DecimalField(max_digits=10, decimal_places=2, null=True),
            "decimal number (8 + 2 digits); may be empty",
        ),
        (models.CharField(max_length=1, choices=[("a", "Ay"), ("b", "Bee")]), "text (at most 1): one of Ay, Bee"),
        (models.DateTimeField(), "moment"),
        (models.BooleanField(default=False, blank=True), "yes or no"),
        (Loan._meta.get_field("school"), "reference to inventory.School"),
        (Loan._meta.get_field("id"), "whole number"),
    ],
    ids=["text", "empty", "amount", "choices", "moment", "yes", "reference", "key"],
)
def test_a_type_says_length_choices_and_where_it_leads(field, words):
    assert type_words(field) == words


def test_a_meaning_is_the_help_text_or_the_comment_or_the_words():
    field = models.DateField(name="due_on", verbose_name="due_on", help_text="the last day")
    assert meaning_of(field, comment="x", words="y") == "The last day"
    field.help_text = ""
    assert meaning_of(field, comment="the last day", words="y") == "Due on: the last day"
    assert meaning_of(field, comment="", words="the last day") == "The last day"
    assert meaning_of(field, comment="", words="") == "Due on"
    assert comments_in(Instrument)["serial"] == "empty: it has none"


def test_who_sees_a_column_follows_from_the_permission_of_its_rows():
    """The permissions are compared with a list written by hand in tests/permission_matrix/roles.py."""
    assert seen_by(Lock, "combination") == "Director"
    assert seen_by(Student, "name") == "Director, District auditor"
    assert seen_by(Student, "grade") == "Director"
    assert seen_by(User, "password") == NOBODY
    assert "Repair tech" in seen_by(Disposal, "way")
    for name in ("police_number", "findings", "proceeds_amount"):
        assert seen_by(Disposal, name) == "Director, District auditor, Administrator"
    assert permission_of(Finding) == "inventory.view_instrument"
    assert permission_of(Event) == "inventory.view_events"


@pytest.mark.parametrize(
    ("name", "unit"),
    [("invoice_amount", "US dollars"), ("minutes", "minutes"), ("keep_papers_years", "years"), ("name", "")],
)
def test_a_unit_follows_from_the_name(name, unit):
    assert unit_of(name) == unit
