"""Minutes, moments, places and findings as a tech says them."""

from __future__ import annotations

from datetime import date, datetime

from inventory.catalog.schema import Catalog, Kind
from inventory.rules.facts import FindingFact

LONG_WAIT_H = 48.0  # from here on a wait is said in days
WHOLE = "The whole instrument"


def duration(minutes: float) -> str:
    """Return whole minutes in words: "5 min", "1 h", "1 h 20 min"; below half a minute it is "under 1 min"."""
    whole = round(minutes)
    if whole < 1:
        return "under 1 min" if minutes > 0 else "0 min"
    hours, rest = divmod(whole, 60)
    words = [f"{hours} h"] if hours else []
    return " ".join([*words, f"{rest} min"] if rest else words)


def waiting(hours: float) -> str:
    """Return a wait that needs nobody: "none", "12 min", "3 h", "3 days"."""
    if hours <= 0:
        return "none"
    if hours >= LONG_WAIT_H:
        days = hours / 24
        return f"{days:.0f} days" if abs(days - round(days)) < 0.05 else f"{days:.1f} days"
    return duration(hours * 60)


def in_ten(chance: float) -> str:
    """Return a chance as one says it: "7 times in 10", "less than 1 time in 10", "nearly always"."""
    tenths = round(chance * 10)
    if tenths < 1:
        return "less than 1 time in 10"
    if tenths > 9:
        return "nearly always"
    return f"{tenths} time{'' if tenths == 1 else 's'} in 10"


def clock_time(moment: datetime, *, today: date) -> str:
    """Return a local moment as said today: "3:40 pm", or with its day when that is another one: "Tue 9:05 am"."""
    said = f"{moment.hour % 12 or 12}:{moment.minute:02d} {'am' if moment.hour < 12 else 'pm'}"
    day = moment.date()
    if day == today:
        return said
    return f"{moment:%a} {said}" if abs((day - today).days) < 7 else f"{moment:%b} {day.day}, {said}"


def place_words(kind: Kind, *, part: str, place: str = "") -> str:
    """Return "Third valve slide" or "Tone hole pads, low C"; without a part it is the whole instrument."""
    return kind.where(part, place) if part else WHOLE


def finding_words(catalog: Catalog, kind: Kind, finding: FindingFact) -> str:
    """Return "Third valve slide: stuck or seized slide, severe"."""
    where = place_words(kind, part=finding.part, place=finding.place)
    return f"{where}: {catalog.fault_name(finding.fault)}, {finding.severity.value}"


def days_span(low: int, high: int) -> str:
    """Return days from the likely to the cautious guess: "1 to 3 days", "about 1 day"."""
    if low == high:
        return "about 1 day" if low == 1 else f"about {low} days"
    return f"{low} to {high} days"
