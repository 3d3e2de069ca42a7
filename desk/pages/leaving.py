"""How an instrument leaves the fleet, in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.models import Event
from inventory.models import Disposal

WAYS = dict(Disposal.Ways.choices)


def _left_fleet(event: Event) -> str:
    return gettext("Out of the fleet: %(way)s") % {"way": WAYS.get(event.after.get("way", ""), "")}


# What the history says of these acts (desk/pages/history.py).
SENTENCES: Mapping[str, Promise | Callable[[Event], str]] = {
    "retired": _("Retired"),
    "no_longer_retired": _("No longer retired"),
    "left_fleet": _left_fleet,
    "disposal_corrected": _("Record of how it left corrected"),
    "back_in_fleet": _("Back in the fleet"),
    "registered_in_error": _("Entered in error: out of every count, and its number is not used again"),
    "error_withdrawn": _("Not entered in error after all"),
    "transfer_offered": _("Offered to another school"),
    "transfer_agreed": _("The other school agreed to take it"),
    "transfer_declined": _("Offer to another school ended"),
    "paper_kept": _("Paper kept"),
}
