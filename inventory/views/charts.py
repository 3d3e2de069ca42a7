"""The fingering charts: read them beside a real instrument, and confirm them for the district."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView
from inventory.exceptions import RefusedError
from inventory.pages.charts import chart_page
from inventory.selectors.charts import chart_lines
from inventory.services.charts import confirm_chart, withdraw_chart

CONFIRM = "inventory.confirm_chart"


class ChartsView(StaffView):
    """Which fingerings the program uses, and who has checked them."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest) -> HttpResponse:
        lines = chart_lines()
        context = {
            "open": [line for line in lines if line.is_open],
            "held": [line for line in lines if not line.is_open],
            "may_confirm": request.user.has_perm(CONFIRM),
        }
        return render(request, "inventory/charts.html", context)


class ChartView(StaffView):
    """One chart as a table."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        return self.shown(request, code)

    def shown(self, request: StaffRequest, code: str, *, refused: str = "", status: int = 200) -> HttpResponse:
        page = chart_page(code)
        if page is None:
            raise Http404
        context = {"page": page, "refused": refused, "may_confirm": request.user.has_perm(CONFIRM)}
        return render(request, "inventory/chart.html", context, status=status)


class ConfirmChartView(ChartView):
    permission_required = CONFIRM
    http_method_names = ["post"]

    def post(self, request: StaffRequest, code: str) -> HttpResponse:
        try:
            confirm_chart(
                code=code,
                digest=request.POST.get("digest", ""),
                actor=request.user,
                on=timezone.localdate(),
                at=timezone.now(),
            )
        except RefusedError as error:
            return self.shown(request, code, refused=str(error), status=422)
        messages.success(request, gettext("Confirmed for the district. Its notes are no longer marked."))
        return redirect("inventory:charts")


class WithdrawChartView(ChartView):
    permission_required = CONFIRM
    http_method_names = ["post"]

    def post(self, request: StaffRequest, code: str) -> HttpResponse:
        withdraw_chart(code=code, actor=request.user, at=timezone.now())
        messages.success(request, gettext("Confirmation withdrawn. Its notes are marked as not confirmed again."))
        return redirect("inventory:chart", code)
