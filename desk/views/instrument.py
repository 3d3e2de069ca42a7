"""The instrument page: may it go out, and if not, what would clear it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from core.views import StaffRequest, StaffView, row_or_404
from desk.selectors.instrument_page import instrument_page
from inventory.models import Instrument


class InstrumentView(StaffView):
    permission_required = "desk.view_instrument"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        rows = Instrument.objects.visible_to(request.user).for_table()
        instrument = row_or_404(rows, asset_number=asset_number.upper())
        page = instrument_page(instrument, user=request.user, today=timezone.localdate())
        user = request.user
        context = {
            "page": page,
            "instrument": instrument,
            "kind": page.kind,
            "perms_view_student": user.has_perm("loans.view_student"),
            "perms_change": user.has_perm("inventory.change_instrument"),
            "perms_lend": user.has_perm("loans.lend_instrument"),
            "perms_play": user.has_perm("inventory.play_test_instrument"),
            "perms_tags": user.has_perm("inventory.manage_tags"),
            "perms_donor": instrument.acquired_by == "gift" and user.has_perm("inventory.view_donor"),
        }
        return render(request, "desk/instrument.html", context)
