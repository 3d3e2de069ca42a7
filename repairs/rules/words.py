"""Minutes, moments, places and findings as a tech says them, and what an outcome changed."""

from __future__ import annotations

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

from inventory.catalog.schema import Catalog, Kind
from inventory.rules.facts import FindingFact
from repairs.rules.facts import Outcome
from repairs.rules.plan import Plan, RungState, Savings

LONG_WAIT_H = 48.0  # from here on a wait is said in days
WHOLE = "The whole instrument"
KNOWN = "This was noted already. Nothing was added twice."
DOLLAR = Decimal(1)


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


def saved_words(saved: Savings) -> str:
    """Return "saves 1 h 20 min and $34" of what the dropped rungs would have taken on average."""
    amount = saved.amount.quantize(DOLLAR, rounding=ROUND_HALF_UP)
    pieces = [duration(saved.minutes)] if saved.minutes >= 0.5 else []
    pieces += [f"${amount:,}"] if amount > 0 else []
    return f"saves {' and '.join(pieces)}" if pieces else ""


def next_rung_words(plan: Plan, *, ladder_key: str) -> str:
    """Say what is left to try at a part: the next way, or a shop."""
    for ladder in plan.ladders:
        for rung in ladder.rungs:
            if ladder.key == ladder_key and rung.state is RungState.NEXT:
                return f"Next try: {lower_first(rung.entry.name)}."
    return "No way is left at this bench: it goes to a shop."


def lower_first(text: str) -> str:
    """Return the text as it stands inside a sentence; an abbreviation keeps its capitals."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def outcome_words(outcome: Outcome, *, plan: Plan, ladder_key: str, saved: Savings | None, damage: str = "") -> str:
    """Return what an outcome changed. ``plan`` is the one after it; ``damage`` names what was entered as damaged."""
    match outcome:
        case Outcome.FREED:
            words = saved_words(saved) if saved is not None else ""
            said = f"Freed early: {words}." if words else "Freed."
        case Outcome.STILL_STUCK:
            return f"Still stuck. {next_rung_words(plan, ladder_key=ladder_key)}"
        case Outcome.DONE:
            said = "Done."
        case Outcome.NOT_RIGHT:
            said = "Noted: not right yet. The plan looks for another way."
        case Outcome.STOPPED:
            said = "Stopped there, as it should be. What the bench cannot go on with is sent out."
        case Outcome.DAMAGED:
            said = f"Noted. {damage} joins the plan." if damage else "Noted as damaged."
        case Outcome.SKIPPED:
            said = "Left out."
    return f"{said} {left_words(plan)}"


def left_words(plan: Plan) -> str:
    """Say how much hands-on time is left, as likely as not, and how many steps; the play test counts as one."""
    if all(step.method == "play_test" for step in plan.steps):
        return "Only the play test is left." if plan.steps else "Nothing is left to do."
    count = len(plan.steps)
    return f"About {duration(plan.taken.attended_minutes.p50)} left, {count} step{'' if count == 1 else 's'}."
