"""Counts in words."""

from __future__ import annotations

from collections import Counter
from datetime import date

import pytest

from core.models import User
from desk.pages.counting import NEXT, difference_line, due_lines, next_act, notice_of, refusal_of, stats_of
from desk.selectors.counting import Scan, SheetRow
from inventory.models import Accessory, Count, CountDifference, Instrument, School, Sighting
from inventory.rules.counting import Outcome, Reason, next_count
from inventory.selectors.counts import Difference, Progress, SchoolDue

TODAY = date(2026, 9, 14)


def due(name, last, *, count=None):
    return SchoolDue(School(name=name), last, next_count(last=last, months=24, notice_days=60, today=TODAY), count)


def test_the_most_urgent_school_comes_first():
    dues = [due("Later", date(2026, 1, 5)), due("Never", None), due("Late", date(2024, 5, 1))]
    assert [(line["school"].name, line["words"]) for line in due_lines(dues)] == [
        ("Late", "overdue since May 1, 2026"),
        ("Never", "never counted"),
        ("Later", "due by Jan 5, 2028"),
    ]


def test_the_first_page_is_silent_while_nothing_is_near():
    assert notice_of([due("Later", date(2026, 1, 5))]) is None
    said = notice_of([due("Late", date(2024, 5, 1)), due("Never", None), due("Open", None, count=Count(pk=1))])
    assert (said["words"], said["overdue"], len(said["open"])) == ("2 schools are due to be counted", 1, 1)


@pytest.mark.parametrize(
    ("scan", "words"),
    [
        (Scan(), ""),
        (Scan(accessory=Accessory(name="mouthpiece")), "That is the tag of its mouthpiece. Scan the instrument's own."),
        (
            Scan(several=(Instrument(asset_number="A1"), Instrument(asset_number="A2"))),
            "7 may be A1, A2. Type the whole number.",
        ),
    ],
)
def test_why_a_scan_is_not_recorded(scan, words):
    assert refusal_of(scan, text="7") == words


def test_a_blind_count_says_only_how_many_were_recorded():
    progress = Progress(9, Counter({Outcome.FOUND: 3, Outcome.UNKNOWN: 1}), 6)
    assert [(one["sum"], one["what"]) for one in stats_of(progress, is_blind=True)] == [(4, "recorded")]
    assert ("3/9", "expected and seen") in [(one["sum"], one["what"]) for one in stats_of(progress, is_blind=False)]


def test_what_is_gone_by_the_record_is_not_counted_as_back_from_missing():
    progress = Progress(9, Counter({Outcome.FOUND_AGAIN: 2, Outcome.GONE_HERE: 1, Outcome.UNKNOWN: 1}), 9)
    said = {one["what"]: one["sum"] for one in stats_of(progress, is_blind=False)}
    assert (said["back from missing"], said["recorded as gone, but here"], said["unknown number"]) == (2, 1, 1)


def test_what_another_school_gave_up_says_whose_it_was():
    horn = Instrument(asset_number="TV-1", school=School(pk=2, name="Oak Hill"))
    seen = Sighting(instrument=horn, count=Count(school_id=1), actor=User(name="Rosa Lund"))
    line = difference_line(Difference("sighting:1", Outcome.GONE_HERE, (), horn, sighting=seen))
    assert line["facts"] == ["Belongs to Oak Hill", "Seen by Rosa Lund"]


@pytest.mark.parametrize(
    ("reason", "whereabouts", "school", "leads_to"),
    [
        ("missing", "not_found", 1, "/leave/TV-1/"),
        ("missing", "in_store", 1, None),
        ("missing", "gone", 1, None),
        ("gone", "in_store", 1, "/leave/TV-1/"),
        ("entered_twice", "in_store", 1, "/i/TV-1/merge/"),
        ("transfer", "in_store", 2, "/transfers/offer/TV-1/"),
        ("transfer", "in_store", 1, None),
        ("moved_here", "in_store", 1, None),
        ("to_register", "", 1, "/instruments/add/"),
    ],
)
def test_a_reason_leads_to_what_follows_until_that_is_done(reason, whereabouts, school, leads_to):
    """Common practice, no source."""
    horn = Instrument(asset_number="TV-1", whereabouts=whereabouts, school_id=school) if whereabouts else None
    row = SheetRow(horn, Outcome.NOT_FOUND, None, None, CountDifference(reason=reason))
    asked = []

    def may(needed, at):
        asked.append((needed, at))
        return True

    link = next_act(row, horn, count=Count(school_id=1), may=may)
    assert (link and link["url"]) == leads_to
    if leads_to:
        needed = NEXT[Reason(reason)].needed if horn else "inventory.add_instrument"
        assert asked == [(needed, school)]
        assert next_act(row, horn, count=Count(school_id=1), may=lambda *_: False) is None
