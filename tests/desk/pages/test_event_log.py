"""Entries of the log in words, as lines and rows."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from core.models import Event
from desk.pages.event_log import act_choices, log_lines, log_rows, values_changed, what
from desk.pages.history import NO_REFS
from desk.selectors.event_log import Entries
from inventory.pages.changes import References
from tests.factories import NOW

LOAN, ORDER = "loans.loan", "repairs.shoporder"


def make_event(act="due_changed", subject_type=LOAN, **fields):
    given = {"number": 7, "at": NOW, "hash": "ab", "request_id": "r1", "subject_id": "1"} | fields
    return Event(act=act, subject_type=subject_type, **given)


@pytest.mark.parametrize(
    ("subject_type", "name", "before", "after", "words"),
    [
        (LOAN, "due_on", "2026-05-28", "2026-06-04", "Due on: May 28, 2026 → Jun 4, 2026"),
        (ORDER, "approved_amount", None, "90.00", "Approved amount: empty → $90"),
        (LOAN, "is_lost", False, True, "Is lost: no → yes"),
        (ORDER, "budget", 3, 4, "Budget: record 3 → record 4"),
        ("loans.loss", "outcome", "", "found", "Outcome: empty → Found, it is here"),
        ("loans.loss", "steps", {}, {"police": "2026-05-01"}, "Steps: empty → 1 values"),
        ("no.such", "due_on", "soon", "2026-05-01", "Due on: soon → May 1, 2026"),
    ],
)
def test_from_and_to_are_said_in_plain_words(subject_type, name, before, after, words):
    event = make_event(subject_type=subject_type, before={name: before}, after={name: after})
    assert [change.words for change in values_changed(event, NO_REFS)] == [words]


def test_what_begins_a_record_says_all_of_it_on_its_page_and_in_a_file_alone():
    after = {
        "approved_by": 7,
        "on": "2026-09-14",
        "proceeds_amount": "9000.01",
        "typed": {"because": "x"},
        "way": "sold",
    }
    event = make_event("left_fleet", "inventory.disposal", after=after)
    refs = References({}, {"approved_by": {7: "Rosa Lund"}})
    words = ["How: Sold", "Date: Sep 14, 2026", "Proceeds: $9,000.01", "Approved by: Rosa Lund"]
    assert [change.words for change in values_changed(event, refs)] == words
    some = Entries([event], refs, {}, frozenset(), {})
    assert log_lines(some)[0]["changes"] == []
    assert next(log_rows([some]))[7] == "; ".join(words)


def test_what_did_not_change_and_what_rows_are_checked_by_is_not_said():
    event = make_event(before={"due_on": "2026-05-28", "now": 1}, after={"due_on": "2026-05-28", "now": 2, "x": 1})
    assert values_changed(event, NO_REFS) == []


def test_an_export_says_which_list_and_how_long():
    event = make_event("exported", "core.user", after={"what": "instruments", "form": "csv", "rows": 240})
    assert what(event) == "Exported: instruments, 240 rows, csv"


def test_acts_are_offered_by_name():
    assert act_choices(["tag_issued", "lent"]) == [("lent", "Lent"), ("tag_issued", "Tag issued")]


def test_a_row_of_a_file_holds_what_the_line_says_and_the_hash():
    event = make_event("care_done", "repairs.caredone", after={"care": "piston_oil", "done_on": "2026-09-01"})
    some = Entries([event], NO_REFS, {}, frozenset({7}), {})
    line, row = log_lines(some)[0], next(log_rows([some]))
    assert line["happened_on"] == date(2026, 9, 1)
    assert line["is_struck"]
    assert row[0] == 7
    assert row[3] == date(2026, 9, 1)
    assert row[-3:] == (True, "r1", "ab")
    assert isinstance(Decimal(row[0]), Decimal)
