"""A horn's play tests over the years."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from core.views import StaffRequest, StaffView, row_or_404
from inventory.models import Instrument
from inventory.selectors.trends import trend_page


class TrendView(StaffView):
    """Does it drift?"""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        rows = Instrument.objects.visible_to(request.user).for_table()
        instrument = row_or_404(rows, asset_number=asset_number.upper())
        context = {"page": trend_page(instrument), "may_read": request.user.has_perm("inventory.play_test_instrument")}
        return render(request, "inventory/trend.html", context)
