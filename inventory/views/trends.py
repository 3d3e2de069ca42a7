"""An instrument's play tests over the years."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from core.views import StaffRequest, StaffView
from inventory.pages.trends import trend_page
from inventory.views.rows import instrument_for


class TrendView(StaffView):
    """Whether its pitch drifts."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        context = {"page": trend_page(instrument), "may_read": request.user.has_perm("inventory.play_test_instrument")}
        return render(request, "inventory/trend.html", context)
