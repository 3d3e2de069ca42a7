"""The fingering charts: read them beside a real instrument, and confirm them for the district."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import FormView, StaffRequest, StaffView
from inventory.forms.charts import ConfirmChartForm
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


class ChartView(FormView):
    """One chart as a table."""

    permission_required = "inventory.view_instrument"
    template_name = "inventory/chart.html"
    row_name = "page"
    form_class: type[forms.BaseForm] = ConfirmChartForm
    http_method_names = ["get", "head", "options"]

    def row(self, **lookup: Any) -> dict[str, Any]:
        page = chart_page(lookup["code"])
        if page is None:
            raise Http404
        return page

    def context(self, row: dict[str, Any], form: forms.Form) -> dict[str, Any]:
        return {"may_confirm": self.request.user.has_perm(CONFIRM)}


class ConfirmChartView(ChartView):
    permission_required = CONFIRM
    http_method_names = ["post"]

    def save(self, row: dict[str, Any], form: ConfirmChartForm) -> str:
        on = timezone.localdate()
        confirm_chart(code=row["line"].chart.code, on=on, **form.cleaned_data, **self.actor_and_time())
        words = gettext("Confirmed for the district. Its notes are no longer marked.")
        return self.done(words, "inventory:charts")


class WithdrawChartView(ChartView):
    permission_required = CONFIRM
    form_class = forms.Form
    http_method_names = ["post"]

    def save(self, row: dict[str, Any], form: forms.Form) -> str:
        withdraw_chart(code=row["line"].chart.code, **self.actor_and_time())
        words = gettext("Confirmation withdrawn. Its notes are marked as not confirmed again.")
        return self.done(words, "inventory:chart", row["line"].chart.code)
