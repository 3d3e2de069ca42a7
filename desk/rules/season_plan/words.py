"""The reasons of a season plan, as a director says them."""

from __future__ import annotations

from core.translation import gettext as _
from core.translation import gettext_noop
from desk.rules.season_plan.result import Why

LEFT = {
    Why.NO_SEAT: gettext_noop("No student asks for one"),
    Why.NO_WAY: gettext_noop("Nothing is known that would make it ready"),
    Why.NOT_ENOUGH: gettext_noop("Would not do for the level that asks for one, even when repaired"),
    Why.TOO_LATE: gettext_noop("Would not be ready in time"),
    Why.OVER: gettext_noop("Takes more than a whole budget by itself"),
    Why.FILLED: gettext_noop("Every seat it could fill is filled"),
    Why.ELSEWHERE: gettext_noop("The money and the hours do more elsewhere"),
    Why.NOTHING_FITS: gettext_noop("No instrument fits, and none can be bought"),
}


def why_words(why: Why) -> str:
    """Return why an instrument is left, or why seats stay empty."""
    return _(LEFT[why])
