"""Sharing an instrument that stays in the room."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from inventory.models import Instrument
from inventory.views.rows import InstrumentFormView
from loans.forms.sharing import SharingForm
from loans.selectors.sharing import period_lines
from loans.services import share_instrument


class SharingView(InstrumentFormView):
    """Who uses it in which class period."""

    permission_required = "loans.change_seat"
    template_name = "loans/sharing.html"

    def form(self, row: Instrument, data: Any = None) -> SharingForm:
        return SharingForm(data, lines=period_lines(row))

    def save(self, row: Instrument, form: SharingForm) -> str:
        changed = share_instrument(instrument=row, seats=form.seats(), **self.actor_and_time())
        words = _("Saved. It stays in the room.") if changed else _("Nothing was changed.")
        return self.done(words, "desk:instrument", row.asset_number)
