"""What the line at the door is told."""

from __future__ import annotations

from datetime import timedelta

import pytest

from desk.pages.give_back import back_lines, refusal_of
from desk.selectors.give_back import Scanned
from inventory.models import Instrument, School
from loans.models import Loan
from loans.rules.due import UNDO_FOR
from tests.factories import NOW, TODAY

HORN = Instrument(asset_number="TD-0001", whereabouts="in_store")


@pytest.mark.parametrize(
    ("scan", "words"),
    [
        (Scanned(loan=Loan()), ""),
        (Scanned(), "No instrument at your schools is tv19."),
        (Scanned(owner=School(name="Elm Street")), "It belongs to Elm Street."),
        (Scanned(several=(HORN, Instrument(asset_number="TD-0011"))), "tv19 may be TD-0001, TD-0011."),
        (Scanned(instrument=HORN), "TD-0001 is not lent: it is in storage."),
        (Scanned(instrument=HORN, last=Loan(returned_at=NOW)), "TD-0001 was already taken back at 10:00 a.m."),
        (Scanned(instrument=HORN, lent_elsewhere=True), "lent by another school"),
    ],
    ids=["lent", "unknown", "foreign tag", "several", "in storage", "already back", "lent elsewhere"],
)
def test_each_scan_has_its_sentence(scan, words):
    said = refusal_of(scan, text="tv19", today=TODAY)
    assert words in said
    assert bool(said) is bool(words)


def test_a_line_offers_one_fewer_of_what_is_here_and_all_of_what_is_missing():
    loan = Loan(
        returned_at=NOW,
        accessories=[{"code": "case", "name": "case", "count": 1}, {"code": "mute", "name": "mute", "count": 2}],
        accessories_back=[{"code": "case", "name": "case", "count": 0}, {"code": "mute", "name": "mute", "count": 2}],
    )
    loan.instrument = HORN
    (line,) = back_lines([loan], now=NOW + UNDO_FOR)
    assert line["may_undo"]
    assert [(one["code"], one["missing"], one["after"]) for one in line["accessories"]] == [
        ("case", 1, 1),
        ("mute", 0, 1),
    ]
    assert not back_lines([loan], now=NOW + UNDO_FOR + timedelta(seconds=1))[0]["may_undo"]
