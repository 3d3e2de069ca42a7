"""Minutes, moments, places and findings as a tech says them, and what an outcome changed."""

from __future__ import annotations

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal

from core.days import short_day, weekday
from core.translation import gettext as _
from core.translation import gettext_noop, ngettext
from inventory.catalog.schema import Catalog, Kind
from inventory.rules.facts import FindingFact
from repairs.rules.facts import Outcome
from repairs.rules.plan import Plan, RungState, Savings

LONG_WAIT_H = 48.0  # from here on a wait is said in days
WHOLE = gettext_noop("The whole instrument")
KNOWN = gettext_noop("This was already noted. Nothing was added twice.")
DOLLAR = Decimal(1)


def duration(minutes: float) -> str:
    """Return whole minutes in words: "5 min", "1 h", "1 h 20 min"; below half a minute it is "under 1 min"."""
    whole = round(minutes)
    if whole < 1:
        return _("under 1 min") if minutes > 0 else _("0 min")
    hours, rest = divmod(whole, 60)
    words = [_("%(hours)s h", hours=hours)] if hours else []
    return " ".join([*words, _("%(minutes)s min", minutes=rest)] if rest else words)


def waiting(hours: float) -> str:
    """Return a wait that needs nobody: "none", "12 min", "3 h", "3 days"."""
    if hours <= 0:
        return _("none")
    if hours >= LONG_WAIT_H:
        days = hours / 24
        return _("%(days)s days", days=f"{days:.0f}" if abs(days - round(days)) < 0.05 else f"{days:.1f}")
    return duration(hours * 60)


def in_ten(chance: float) -> str:
    """Return a chance as one says it: "7 times in 10", "less than 1 time in 10", "nearly always"."""
    tenths = round(chance * 10)
    if tenths < 1:
        return _("less than 1 time in 10")
    if tenths > 9:
        return _("nearly always")
    return ngettext("%(number)s time in 10", "%(number)s times in 10", tenths)


def clock_time(moment: datetime, *, today: date) -> str:
    """Return a local moment as said today: "3:40 pm", or with its day when that is another one: "Tue 9:05 am"."""
    hour = f"{moment.hour % 12 or 12}:{moment.minute:02d}"
    time = _("%(time)s am", time=hour) if moment.hour < 12 else _("%(time)s pm", time=hour)
    day = moment.date()
    if day == today:
        return time
    return f"{weekday(day)} {time}" if abs((day - today).days) < 7 else f"{short_day(day)}, {time}"


def place_words(kind: Kind, *, part: str, place: str = "") -> str:
    """Return "Third valve slide" or "Tone hole pads, low C"; without a part it is the whole instrument."""
    return kind.where(part, place) if part else _(WHOLE)


def finding_words(catalog: Catalog, kind: Kind, finding: FindingFact) -> str:
    """Return "Third valve slide: stuck or seized slide, severe"."""
    where = place_words(kind, part=finding.part, place=finding.place)
    return f"{where}: {catalog.fault_name(finding.fault)}, {_(finding.severity.value)}"


def days_span(low: int, high: int) -> str:
    """Return days from the likely to the cautious guess: "1 to 3 days", "about 1 day"."""
    if low == high:
        return ngettext("about %(number)s day", "about %(number)s days", low)
    return _("%(low)s to %(high)s days", low=low, high=high)


def saved_words(saved: Savings) -> str:
    """Return "saves 1 h 20 min and $34" of what the dropped rungs would have taken on average."""
    amount = saved.amount.quantize(DOLLAR, rounding=ROUND_HALF_UP)
    pieces = [duration(saved.minutes)] if saved.minutes >= 0.5 else []
    pieces += [f"${amount:,}"] if amount > 0 else []
    return _("saves %(what)s", what=_(" and ").join(pieces)) if pieces else ""


def next_rung_words(plan: Plan, *, ladder_key: str) -> str:
    """Say what is left to try at a part: the next way, or a shop."""
    for ladder in plan.ladders:
        for rung in ladder.rungs:
            if ladder.key == ladder_key and rung.state is RungState.NEXT:
                return _("Next try: %(way)s.", way=lower_first(rung.entry.name))
    return _("No way is left at this bench: it goes to a shop.")


def lower_first(text: str) -> str:
    """Return the text as it stands inside a sentence; an abbreviation keeps its capitals."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def outcome_words(outcome: Outcome, *, plan: Plan, ladder_key: str, saved: Savings | None, damage: str = "") -> str:
    """Return what an outcome changed. ``plan`` is the one after it; ``damage`` names what was entered as damaged."""
    match outcome:
        case Outcome.FREED:
            words = saved_words(saved) if saved is not None else ""
            text = _("Freed early: %(saved)s.", saved=words) if words else _("Freed.")
        case Outcome.STILL_STUCK:
            return f"{_('Still stuck.')} {next_rung_words(plan, ladder_key=ladder_key)}"
        case Outcome.DONE:
            text = _("Done.")
        case Outcome.NOT_RIGHT:
            text = _("Noted: not right yet. The plan looks for another way.")
        case Outcome.STOPPED:
            text = _("Stopped there, as it should be. What the bench cannot go on with is sent out.")
        case Outcome.DAMAGED:
            text = _("Noted. %(damage)s joins the plan.", damage=damage) if damage else _("Noted as damaged.")
        case Outcome.SKIPPED:
            text = _("Left out.")
    return f"{text} {left_words(plan)}"


def left_words(plan: Plan) -> str:
    """Say how much hands-on time is left, as likely as not, and how many steps; the play test counts as one."""
    if all(step.method == "play_test" for step in plan.steps):
        return _("Only the play test is left.") if plan.steps else _("Nothing is left to do.")
    time = duration(plan.taken.attended_minutes.p50)
    return ngettext(
        "About %(time)s left, %(number)s step.", "About %(time)s left, %(number)s steps.", len(plan.steps), time=time
    )
