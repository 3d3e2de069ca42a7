"""The instrument a page is about, where one of the user's roles at its school allows the page; else 404."""

from __future__ import annotations

from typing import Any

from core.views import FormView, StaffRequest, row_or_404
from inventory.models import Instrument


def instrument_for(request: StaffRequest, asset_number: str, permission: str, *with_it: str) -> Instrument:
    """Return it with its school and room, and whatever else is named. The number may be typed in small letters."""
    rows = Instrument.objects.visible_to(request.user, permission).select_related("school", "room", *with_it)
    return row_or_404(rows, asset_number=asset_number.upper())


class InstrumentFormView(FormView, is_base=True):
    """A form about one instrument, at a school where the user holds the page's permission."""

    row_name = "instrument"

    def row(self, **lookup: Any) -> Any:
        return instrument_for(self.request, lookup["asset_number"], self.permission_required)
