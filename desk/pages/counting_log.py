"""Events of physical counts as sentences."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.models import Event
from inventory.models import OUTCOME_LABELS
from inventory.rules.counting import Outcome


def sighted(event: Event) -> str:
    outcome = Outcome(event.after["outcome"])
    if outcome is Outcome.FOUND:
        return gettext("Seen in a count")
    return gettext("Seen in a count: %(outcome)s") % {"outcome": str(OUTCOME_LABELS[outcome]).lower()}


COUNTING: Mapping[str, Promise | Callable[[Event], str]] = {
    "sighted": sighted,
    "sighting_undone": _("Taken out of the count again"),
    "count_opened": _("Count opened"),
    "counting_ended": _("Counting ended"),
    "count_again": _("Differences to be counted again"),
    "count_dropped": _("Count canceled"),
    "count_signed": _("Count signed"),
}
