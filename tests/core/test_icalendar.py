"""Calendars read back by another library, and their lines counted in octets."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import icalendar
from hypothesis import given
from hypothesis import strategies as st

from core.icalendar import DayEntry, calendar_text, folded

AT = datetime(2027, 5, 3, 14, 30, 5, tzinfo=UTC)
# What may stand in a text: no control characters, which RFC 5545 (section 3.3.11) leaves out, and no halves of pairs.
TEXTS = st.text(st.characters(exclude_categories=("C", "Z"), include_characters=" \n"), max_size=300)


def read(text: str) -> icalendar.Calendar:
    assert text.endswith("\r\n")
    lines = text.encode().split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert all(line.decode() is not None for line in lines)  # no letter is parted
    assert b"\n" not in text.replace("\r\n", "").encode()
    return icalendar.Calendar.from_ical(text)


@given(summary=TEXTS, description=TEXTS)
def test_any_text_comes_back_as_it_was(summary, description):
    entry = DayEntry(
        uid="due-1@h.example", on=date(2027, 5, 28), summary=summary, changed_at=AT, description=description
    )
    (event,) = read(calendar_text(name="Ñandú; band, \\ hall", entries=[entry])).events
    assert str(event["SUMMARY"]) == summary
    assert str(event.get("DESCRIPTION", "")) == description


def test_an_entry_is_a_whole_day_that_takes_up_no_time():
    entry = DayEntry(
        uid="job-7@h.example", on=date(2027, 12, 31), summary="Bench: TD-0042 promised", changed_at=AT, sequence=12
    )
    calendar = read(calendar_text(name="Elm Street", entries=[entry]))
    (event,) = calendar.events
    assert (calendar["VERSION"], str(calendar["X-WR-CALNAME"])) == ("2.0", "Elm Street")
    assert (event["DTSTART"].dt, event["DTEND"].dt) == (date(2027, 12, 31), date(2028, 1, 1))
    assert event["DTSTART"].params["VALUE"] == "DATE"
    assert (event["UID"], event["SEQUENCE"], event["TRANSP"]) == ("job-7@h.example", 12, "TRANSPARENT")
    assert event["DTSTAMP"].dt == AT
    assert event.errors == []


def test_accents_are_folded_between_letters():
    """75 octets with the space that begins what is folded (RFC 5545, section 3.1)."""
    line = "SUMMARY:" + "é" * 100
    pieces = folded(line).split("\r\n ")
    assert "".join(pieces) == line
    assert [len(piece.encode()) for piece in pieces] == [74, 74, 60]
    assert folded("x" * 75) == "x" * 75
    assert folded("x" * 76) == "x" * 75 + "\r\n x"


def test_a_moment_elsewhere_is_told_in_universal_time():
    there = AT.astimezone(tz=None) + timedelta()
    entry = DayEntry(uid="a@h", on=date(2027, 1, 1), summary="s", changed_at=there)
    assert "DTSTAMP:20270503T143005Z" in calendar_text(name="n", entries=[entry])
