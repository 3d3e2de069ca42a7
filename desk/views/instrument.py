"""The page of one instrument."""

from __future__ import annotations

from functools import partial

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from core.views import StaffRequest, StaffView
from desk.pages.instrument_page import instrument_page
from desk.selectors.instrument_record import instrument_record
from inventory.access import has_perm_at_school
from inventory.models import Acquired
from inventory.views.rows import instrument_for


class InstrumentView(StaffView):
    permission_required = "desk.view_instrument"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        record = instrument_record(instrument, user=request.user, today=timezone.localdate())
        may = partial(has_perm_at_school, request.user, school_id=instrument.school_id)
        context = {
            "page": instrument_page(record, may=may),
            "record": record,
            "instrument": instrument,
            "kind": record.standing.kind,
            "may_name": may("loans.view_student_name"),
            "may_change": may("inventory.change_instrument"),
            "may_lend": may("loans.lend_instrument"),
            "may_play": may("inventory.play_test_instrument"),
            "may_manage_tags": may("inventory.manage_tags"),
            "may_see_bench": may("repairs.view_bench"),
            "may_see_donor": instrument.acquired_by == Acquired.GIFT and may("inventory.view_donor"),
        }
        return render(request, "desk/instrument.html", context)
