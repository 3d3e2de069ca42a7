"""A calendar of days as programs subscribe to it (RFC 5545)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

CRLF, MOST_OCTETS = "\r\n", 75  # of a line without its end (section 3.1)
PRODUCT = "-//Hornbook//Calendar//EN"


@dataclass(frozen=True, slots=True)
class DayEntry:
    """Something of one whole day. ``uid`` stays the same when the entry changes, and ``sequence`` only grows then."""

    uid: str
    on: date
    summary: str
    changed_at: datetime
    sequence: int = 0
    description: str = ""
    url: str = ""


def calendar_text(*, name: str, entries: Iterable[DayEntry]) -> str:
    """Return the calendar, in which no entry takes up time: a day's note is not an appointment."""
    return "".join(f"{folded(line)}{CRLF}" for line in _lines(name, entries))


def _lines(name: str, entries: Iterable[DayEntry]) -> Iterator[str]:
    yield "BEGIN:VCALENDAR"
    yield "VERSION:2.0"
    yield f"PRODID:{PRODUCT}"
    yield "CALSCALE:GREGORIAN"
    yield "METHOD:PUBLISH"
    yield f"X-WR-CALNAME:{escaped(name)}"  # common practice, no source: how programs name what they subscribe to
    for entry in entries:
        stamp = f"{entry.changed_at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
        yield "BEGIN:VEVENT"
        yield f"UID:{escaped(entry.uid)}"
        yield f"DTSTAMP:{stamp}"  # with METHOD:PUBLISH it may be when the entry was last revised (section 3.8.7.2)
        yield f"LAST-MODIFIED:{stamp}"
        yield f"SEQUENCE:{entry.sequence}"
        yield f"DTSTART;VALUE=DATE:{entry.on:%Y%m%d}"
        yield f"DTEND;VALUE=DATE:{entry.on + timedelta(days=1):%Y%m%d}"  # the first day after it
        yield f"SUMMARY:{escaped(entry.summary)}"
        if entry.description:
            yield f"DESCRIPTION:{escaped(entry.description)}"
        if entry.url:
            yield f"URL:{entry.url}"
        yield "TRANSP:TRANSPARENT"
        yield "END:VEVENT"
    yield "END:VCALENDAR"


def escaped(text: str) -> str:
    """Return a text as a value of type TEXT (section 3.3.11); other control characters have no place in it."""
    kept = "".join(sign for sign in text.replace("\r\n", "\n") if sign in "\n\t" or sign.isprintable())
    for sign in ("\\", ";", ","):
        kept = kept.replace(sign, f"\\{sign}")
    return kept.replace("\n", "\\n")


def folded(line: str) -> str:
    """Return a content line in pieces of 75 octets at most; a letter of several octets is not parted."""
    pieces, room, piece = [], MOST_OCTETS, ""
    for sign in line:
        octets = len(sign.encode())
        if octets > room:
            pieces.append(piece)
            piece, room = " ", MOST_OCTETS - 1
        piece, room = piece + sign, room - octets
    return CRLF.join((*pieces, piece))
