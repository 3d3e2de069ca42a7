"""From and to in words."""

from __future__ import annotations

import pytest

from core.events import TEXTS
from core.models import Event, Revision
from inventory.columns import COLUMNS
from inventory.pages.changes import References, changes_of, labels_of

PLACES = {"school": {1: "Elm Street", 2: "Oak Hill"}, "room": {5: "Loft"}}


def an_event(before, after, act="corrected", about="inventory.instrument"):
    return Event(number=7, act=act, subject_type=about, subject_id="1", before=before, after=after)


def words(before, after, **told):
    texts = {(7, row.column): row for row in told.pop("texts", ())}
    return [change.words for change in changes_of(an_event(before, after), References(texts, PLACES, **told))]


@pytest.mark.parametrize(
    ("column", "before", "after", "says"),
    [
        ("acquisition_cost_amount", "467.00", "1250.50", "Cost: $467 → $1,250.50"),
        ("replacement_amount", None, "900.00", "Replacement cost: empty → $900"),
        ("federal_percent", "50.00", "12.50", "Federal percent: 50 % → 12.5 %"),
        ("acquired_on", "2008-11-01", None, "Acquired on: Nov 1, 2008 → empty"),
        ("year_made", 2006, 1987, "Year made: 2006 → 1987"),
        ("level", "student", "intermediate", "Level: Student → Intermediate"),
        ("acquired_by", "bought", "gift", "Acquired by: Bought → Gift"),
        ("school", 1, 2, "School: Elm Street → Oak Hill"),
        ("room", 5, 6, "Room: Loft → no longer there"),
        ("options", {"key": "F", "valve": "4"}, {"key": "Eb", "valve": "4"}, "Key: F → E♭"),
        ("options", {}, {"third_slide": "ring"}, "Third slide: empty → ring"),
        ("options", {"third_slide": "ring"}, None, "Third slide: ring → empty"),
        ("maker", "Plane", "Plain", "Maker: Plane → Plain"),
    ],
)
def test_a_change_of_each_sort(column, before, after, says):
    """The last is as earlier versions kept it: in the event itself."""
    assert words({column: before}, {column: after}) == [says]


def test_a_typed_text_comes_from_its_revision():
    text = Revision(column="serial", before="12345", after="12354", salt="s")
    hashes = {TEXTS: {"serial": "0" * 64}}
    assert words(hashes, hashes, texts=[text]) == ["Serial: 12345 → 12354"]
    assert words({}, hashes, texts=[text]) == ["Serial: 12354"]
    assert words(hashes, hashes) == ["Serial: not kept"]
    emptied = Revision(column="serial", before="12345", after="", salt="")
    (change,) = changes_of(an_event(hashes, hashes), References({(7, "serial"): emptied}, PLACES))
    assert (change.words, change.is_erased) == ("Serial: 12345 → empty", True)


def test_what_earlier_versions_did_not_keep_is_said_to_have_changed():
    assert words({}, {"notes": "in the row"}) == ["Notes: changed"]


def test_a_row_that_begins_has_no_before():
    after = {"kind": "trumpet", "options": {"third_slide": "ring"}, "acquisition_cost_amount": "5.00", "by": "a person"}
    assert words({}, after) == ["Kind: Trumpet", "Third slide: ring", "Cost: $5"]


def test_columns_that_the_reader_may_not_see_are_left_out():
    columns = tuple(column for column in COLUMNS if column.name != "year_made")
    assert words({"year_made": 1, "level": "student"}, {"year_made": 2, "level": "student"}, columns=columns) == [
        "Level: Student → Student"
    ]


def test_a_gift_is_told_to_who_may_see_the_donor():
    event = an_event(
        {"thanked_on": None, TEXTS: {"donor_name": "0"}},
        {"thanked_on": "2026-09-10", TEXTS: {"donor_name": "1"}},
        act="gift_corrected", about="inventory.donation",
    )  # fmt: skip
    texts = {(7, "donor_name"): Revision(column="donor_name", before="A Giver", after="B Giver", salt="s")}
    told = [change.words for change in changes_of(event, References(texts, PLACES, shows_donor=True))]
    assert told == ["Donor: A Giver → B Giver", "Thanked on: empty → Sep 10, 2026"]
    assert changes_of(event, References(texts, PLACES)) == []


def test_other_rows_have_no_columns_here():
    assert changes_of(an_event({}, {"level": "x"}, about="loans.loan"), References({}, PLACES)) == []


def test_columns_are_named_in_the_order_of_the_register():
    event = an_event({}, {"year_made": 1, TEXTS: {"notes": "0", "serial": "0"}, "school": 3})
    assert labels_of(event) == ["Serial", "Year made", "School", "Notes"]
