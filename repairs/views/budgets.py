"""Repair budgets of the schools, and the orders as a file for whoever keeps the books."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.responses import stream_response
from core.sheets import stream_csv
from core.views import StaffRequest, StaffView, row_or_404
from inventory.models import schools_of
from repairs.forms.budgets import BudgetForm, NewBudgetForm
from repairs.forms.orders import SpanForm
from repairs.models import RepairBudget
from repairs.pages.books import HEADER, book_rows
from repairs.selectors.budgets import budgets_of
from repairs.selectors.shops import AT_ONCE, orders_between
from repairs.services.budgets import add_budget, change_budget
from repairs.views.one_form import OneFormView

CHANGE = "repairs.change_budget"


class BudgetsView(StaffView):
    """What each fund may spend, has promised and has spent."""

    permission_required = "repairs.view_budget"

    def get(self, request: StaffRequest) -> HttpResponse:
        add = {"label": gettext("Add a budget"), "url": reverse("repairs:add-budget"), "main": True}
        changes = frozenset(schools_of(request.user, CHANGE).values_list("pk", flat=True))
        context = {
            "budgets": [(one, one.school_id in changes) for one in budgets_of(request.user)],
            "acts": [add] if changes else [], "today": timezone.localdate(), "form": SpanForm(),
        }  # fmt: skip
        return render(request, "repairs/budgets.html", context)


class AddBudgetView(OneFormView):
    permission_required = CHANGE
    form_class = NewBudgetForm
    title, button, back, success_message = _("Add a budget"), _("Add it"), _("Budgets"), _("The budget is added.")
    lead = _("Orders of the school can be booked to it from its first day to its last.")

    def row(self, **lookup: Any) -> Any:
        return None

    def over(self, row: Any) -> str:
        return ""

    def form_kwargs(self, row: Any) -> dict[str, Any]:
        return {"schools": schools_of(self.request.user, CHANGE)}

    def act(self, row: Any, form: NewBudgetForm) -> RepairBudget:
        return add_budget(**self.actor_and_time(), **form.cleaned_data)

    def back_url(self, row: Any) -> str:
        return reverse("repairs:budgets")


class ChangeBudgetView(OneFormView):
    permission_required = CHANGE
    form_class, service, subject = BudgetForm, staticmethod(change_budget), "budget"
    title, back, success_message = _("Change the budget"), _("Budgets"), _("Saved.")

    def row(self, **lookup: Any) -> RepairBudget:
        return row_or_404(RepairBudget.objects.visible_to(self.request.user, CHANGE).select_related("school"), **lookup)

    def form_kwargs(self, row: RepairBudget) -> dict[str, Any]:
        return {"initial": {name: getattr(row, name) for name in ("fund", "begins_on", "ends_on", "amount")}}

    def over(self, row: RepairBudget) -> str:
        return f"{row} · {row.school}"

    def back_url(self, row: RepairBudget) -> str:
        return reverse("repairs:budgets")


class OrderBooksView(StaffView):
    """The orders asked between two days, a row each. No student and no donor is in it."""

    permission_required = "repairs.view_budget"

    def get(self, request: StaffRequest) -> HttpResponseBase:
        form = SpanForm(request.GET)
        first, last = (form.cleaned_data["first"], form.cleaned_data["last"]) if form.is_valid() else (None, None)
        orders = orders_between(request.user, first=first, last=last)
        schools = schools_of(request.user, self.permission_required).values_list("pk", flat=True)
        self.note_export("shop orders", form="csv", rows=orders.count(), schools=list(schools[:2]))
        rows = book_rows(orders.iterator(chunk_size=AT_ONCE))
        return stream_response(stream_csv(header=HEADER, rows=rows), name=f"shop-orders-{timezone.localdate()}.csv")
