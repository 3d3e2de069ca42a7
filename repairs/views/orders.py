"""One order at an outside shop, from the question to the bill."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from core.money import dollars
from core.pdf import PdfError
from core.responses import file_response, home_url
from core.views import StaffRequest, StaffView, row_or_404
from inventory.access import has_perm_at_school
from inventory.models import Instrument
from inventory.views.rows import instrument_for
from repairs.forms.shops import (
    ApproveForm,
    AskForm,
    BackForm,
    CallOffForm,
    EstimateForm,
    InvoiceForm,
    SendForm,
)
from repairs.models import Shop, ShopOrder, ShopOrderQuerySet
from repairs.pages.shops import asking, findings_in_words, order_page, slip_of
from repairs.pdf import packing_slip_pdf
from repairs.selectors.shops import approval_limit
from repairs.services.shops import (
    approve_order,
    ask_shop,
    bring_back,
    call_off,
    note_estimate,
    note_invoice,
    send_to_shop,
)
from repairs.views.one_form import OneFormView


def orders_for(request: StaffRequest, permission: str) -> ShopOrderQuerySet:
    rows = ShopOrder.objects.visible_to(request.user, permission)
    return rows.for_table().select_related("asked_by", "approved_by", "play_test")


class AskShopView(OneFormView):
    """Ask a shop about a horn; the form is filled from what the bench cannot do itself."""

    permission_required = "repairs.send_out"
    button = "Write the order"

    def row(self, **lookup: Any) -> Instrument:
        return instrument_for(self.request, lookup["asset_number"], self.permission_required)

    def form(self, row: Instrument, data: Any = None) -> forms.Form:
        filled = asking(row)
        initial = {
            "question": filled.question,
            "work": filled.work,
            "findings": filled.findings,
            "expected_low_amount": filled.low_amount,
            "expected_high_amount": filled.high_amount,
        }
        return AskForm(data, standing=findings_in_words(row), initial=initial)

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        order = ShopOrder.objects.open().filter(instrument=row).first()
        if order is not None:
            return redirect("repairs:order", order.pk)
        if not Shop.objects.filter(is_used=True).exists():
            messages.info(request, "Put the shop on the list first.")
            return redirect("repairs:shops")
        return self.shown(row, self.form(row))

    def save(self, row: Instrument, form: forms.Form) -> str:
        order = ask_shop(instrument=row, **self.acted(), **form.cleaned_data)
        return reverse("repairs:order", args=[order.pk])

    def heading(self, row: Instrument) -> dict[str, Any]:
        return {
            "title": "Ask an outside shop",
            "over": str(row),
            "lead": f"Above {dollars(approval_limit())} somebody approves it before it is sent.",
            "back_url": reverse("desk:instrument", args=[row.asset_number]),
            "back": "The instrument",
        }


class OrderView(StaffView):
    """Where an order stands and what comes next."""

    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        order = row_or_404(orders_for(request, self.permission_required), pk=pk)
        page = order_page(order, today=timezone.localdate(), limit=approval_limit())
        context = {
            "page": page,
            "order": order,
            "may_send": has_perm_at_school(request.user, "repairs.send_out", order.instrument.school_id),
            "may_approve": has_perm_at_school(request.user, "repairs.approve_cost", order.instrument.school_id),
        }
        return render(request, "repairs/order.html", context)


class OrderFormView(OneFormView):
    """A form about one order."""

    permission_required = "repairs.send_out"
    title, lead, said = "", "", ""

    def row(self, **lookup: Any) -> ShopOrder:
        return row_or_404(orders_for(self.request, self.permission_required), **lookup)

    def heading(self, row: ShopOrder) -> dict[str, Any]:
        return {
            "title": self.title,
            "over": f"{row.instrument} · {row.shop}",
            "lead": self.lead,
            "back_url": reverse("repairs:order", args=[row.pk]),
            "back": "The order",
        }

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        raise NotImplementedError

    def save(self, row: ShopOrder, form: forms.Form) -> str:
        self.act(row, form)
        messages.success(self.request, self.said)
        return reverse("repairs:order", args=[row.pk])


class EstimateView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, said = "Their estimate", "Keep the estimate", "Estimate kept."

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return EstimateForm(data, initial={"on": timezone.localdate(), "promised_on": row.promised_on})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return note_estimate(order=row, **self.acted(), **form.cleaned_data)


class ApproveOrderView(OrderFormView):
    permission_required = "repairs.approve_cost"
    title, button, said = "Approve the cost", "Approve", "Approved."
    lead = "Kept with your name, the amount and the day."

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return ApproveForm(data, initial={"amount": row.known_amount})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return approve_order(order=row, **self.acted(), **form.cleaned_data)


class SendView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, said = "Send it off", "It is on its way", "Sent. Put the packing slip in the case."
    lead = "From then on it is at the shop; a job on it stays open and waits."

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return SendForm(data, initial={"promised_on": row.promised_on})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return send_to_shop(order=row, **self.acted(), **form.cleaned_data)


class BackView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, said = "It is back", "It is back", "Back. Play-test it; until then it stays in."
    lead = "It goes to the bench if its job is open, else into the store. It stays in until somebody has played it."

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        asked = findings_in_words(row.instrument, ids=row.findings)
        return BackForm(data, asked=asked, initial={"put_right": row.findings})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return bring_back(order=row, **self.acted(), **form.cleaned_data)


class InvoiceView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, said = "The bill", "Keep the bill", "Bill kept."

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return InvoiceForm(data, order=row, initial={"on": timezone.localdate()})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return note_invoice(order=row, **self.acted(), **form.cleaned_data)


class CallOffView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, said = "Call it off?", "Call it off", "Called off."

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return CallOffForm(data)

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return call_off(order=row, **self.acted(), **form.cleaned_data)


class PackingSlipView(StaffView):
    """The paper that goes into the case."""

    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        order = row_or_404(orders_for(request, self.permission_required), pk=pk)
        try:
            pdf = packing_slip_pdf(slip_of(order, home=home_url(request), today=timezone.localdate()))
        except PdfError:
            messages.error(request, "The slip could not be laid out. The order is untouched; please tell support.")
            return redirect("repairs:order", pk)
        return file_response(pdf, name=f"packing-slip-{order.instrument.asset_number}.pdf")
