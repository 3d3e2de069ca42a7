"""The reasons in a season plan, in a director's words."""

from __future__ import annotations

from core.translation import gettext as _
from core.translation import gettext_noop
from desk.rules.season_plan.result import Reason

LEFT = {
    Reason.NO_SEAT: gettext_noop("No student needs one"),
    Reason.NO_WAY: gettext_noop("No known repair would make it ready"),
    Reason.NOT_ENOUGH: gettext_noop("Not good enough for the level that needs one, even after repair"),
    Reason.TOO_LATE: gettext_noop("Would not be ready in time"),
    Reason.OVER: gettext_noop("Needs more than an entire budget by itself"),
    Reason.FILLED: gettext_noop("Every seat it could fill is filled"),
    Reason.ELSEWHERE: gettext_noop("The hours and money fill more seats elsewhere"),
    Reason.NOT_REACHED: gettext_noop("Not reached in the time the plan had"),
    Reason.SHORT: gettext_noop("Not enough instruments, with these hours and this money"),
    Reason.NOTHING_FITS: gettext_noop("No instrument fits, and none can be bought"),
}


def why_words(why: Reason) -> str:
    """Return why an instrument is left, or why seats stay empty."""
    return _(LEFT[why])
