"""The page of one instrument."""

from __future__ import annotations

from functools import partial

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView
from desk.pages.instrument_page import instrument_page
from desk.selectors.instrument_record import instrument_record
from inventory.access import has_perm_at_school
from inventory.views.rows import instrument_for


class InstrumentView(StaffView):
    permission_required = "desk.view_instrument"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required, "lock")
        if instrument.merged_into is not None:
            text = gettext("%(number)s was merged into this record.") % {"number": instrument.asset_number}
            messages.info(request, text)
            return redirect("desk:instrument", instrument.merged_into.asset_number)
        record = instrument_record(instrument, user=request.user, today=timezone.localdate())
        may = partial(has_perm_at_school, request.user, school_id=instrument.school_id)
        return render(request, "desk/instrument.html", instrument_page(record, reader=request.user, may=may))
