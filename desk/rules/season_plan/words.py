"""The reasons in a season plan, in a director's words."""

from __future__ import annotations

from core.translation import gettext as _
from core.translation import gettext_noop
from desk.rules.season_plan.result import Why

LEFT = {
    Why.NO_SEAT: gettext_noop("No student needs one"),
    Why.NO_WAY: gettext_noop("No known repair would make it ready"),
    Why.NOT_ENOUGH: gettext_noop("Not good enough for the level that needs one, even after repair"),
    Why.TOO_LATE: gettext_noop("Would not be ready in time"),
    Why.OVER: gettext_noop("Needs more than an entire budget by itself"),
    Why.FILLED: gettext_noop("Every seat it could fill is filled"),
    Why.ELSEWHERE: gettext_noop("The hours and money fill more seats elsewhere"),
    Why.SHORT: gettext_noop("Not enough instruments, with these hours and this money"),
    Why.NOTHING_FITS: gettext_noop("No instrument fits, and none can be bought"),
}


def why_words(why: Why) -> str:
    """Return why an instrument is left, or why seats stay empty."""
    return _(LEFT[why])
