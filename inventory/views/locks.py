"""The lock behind which an instrument is kept."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from inventory.forms.register import LockForm
from inventory.models import Instrument
from inventory.services.registering import note_lock
from inventory.views.rows import InstrumentFormView


class LockView(InstrumentFormView):
    """The combination of the lock where it is kept, for those who lend it."""

    permission_required = "inventory.view_lock"
    template_name = "inventory/lock.html"

    def form(self, row: Instrument, data: Any = None) -> LockForm:
        lock = getattr(row, "lock", None)
        return LockForm(data, initial={"combination": lock.combination if lock else ""})

    def save(self, row: Instrument, form: LockForm) -> str:
        note_lock(instrument=row, **self.actor_and_time(), **form.cleaned_data)
        return self.done(gettext("Saved."), "desk:instrument", row.asset_number)
