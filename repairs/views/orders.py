"""One order at an outside shop, from the question to the bill."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

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
    """Ask a shop about an instrument; the form is filled from what the bench cannot do itself."""

    permission_required = "repairs.send_out"
    button = _("Write the order")

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
            messages.info(request, gettext("Add a shop first."))
            return redirect("repairs:shops")
        return self.shown(row, self.form(row))

    def save(self, row: Instrument, form: forms.Form) -> str:
        order = ask_shop(instrument=row, **self.actor_and_time(), **form.cleaned_data)
        return reverse("repairs:order", args=[order.pk])

    def heading(self, row: Instrument) -> dict[str, Any]:
        return {
            "title": gettext("Ask an outside shop"),
            "over": str(row),
            "lead": gettext("Over %(limit)s, somebody must approve it before it is sent.")
            % {"limit": dollars(approval_limit())},
            "back_url": reverse("desk:instrument", args=[row.asset_number]),
            "back": gettext("The instrument"),
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
    title: str | Promise = ""
    lead: str | Promise = ""
    success_message: str | Promise = ""

    def row(self, **lookup: Any) -> ShopOrder:
        return row_or_404(orders_for(self.request, self.permission_required), **lookup)

    def heading(self, row: ShopOrder) -> dict[str, Any]:
        return {
            "title": self.title,
            "over": f"{row.instrument} · {row.shop}",
            "lead": self.lead,
            "back_url": reverse("repairs:order", args=[row.pk]),
            "back": gettext("The order"),
        }

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        raise NotImplementedError

    def save(self, row: ShopOrder, form: forms.Form) -> str:
        self.act(row, form)
        messages.success(self.request, str(self.success_message))
        return reverse("repairs:order", args=[row.pk])


class EstimateView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, success_message = _("Their estimate"), _("Save the estimate"), _("Estimate saved.")

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return EstimateForm(data, initial={"on": timezone.localdate(), "promised_on": row.promised_on})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return note_estimate(order=row, **self.actor_and_time(), **form.cleaned_data)


class ApproveOrderView(OrderFormView):
    permission_required = "repairs.approve_cost"
    title, button, success_message = _("Approve the cost"), _("Approve"), _("Approved.")
    lead = _("Your name, the amount and the date are kept with it.")

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return ApproveForm(data, initial={"amount": row.known_amount})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return approve_order(order=row, **self.actor_and_time(), **form.cleaned_data)


class SendView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, success_message = _("Send it off"), _("Mark as sent"), _("Sent. Put the packing slip in the case.")
    lead = _("It then counts as at the shop. An open job on it stays open and waits.")

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return SendForm(data, initial={"promised_on": row.promised_on})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return send_to_shop(order=row, **self.actor_and_time(), **form.cleaned_data)


class BackView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, success_message = (
        _("It is back"),
        _("Mark as back"),
        _("Back. Play-test it; until then it stays in."),
    )
    lead = _(
        "It goes to the bench if its job is open, otherwise to the store. It stays in until somebody has played it."
    )

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        asked = findings_in_words(row.instrument, ids=row.findings)
        return BackForm(data, asked=asked, initial={"put_right": row.findings})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return bring_back(order=row, **self.actor_and_time(), **form.cleaned_data)


class InvoiceView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, success_message = _("The bill"), _("Save the bill"), _("Bill saved.")

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return InvoiceForm(data, order=row, initial={"on": timezone.localdate()})

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return note_invoice(order=row, **self.actor_and_time(), **form.cleaned_data)


class CallOffView(OrderFormView):
    permission_required = "repairs.send_out"
    title, button, success_message = _("Cancel the order?"), _("Cancel the order"), _("Order canceled.")

    def form(self, row: ShopOrder, data: Any = None) -> forms.Form:
        return CallOffForm(data)

    def act(self, row: ShopOrder, form: forms.Form) -> object:
        return call_off(order=row, **self.actor_and_time(), **form.cleaned_data)


class PackingSlipView(StaffView):
    """The paper that goes into the case."""

    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        order = row_or_404(orders_for(request, self.permission_required), pk=pk)
        try:
            pdf = packing_slip_pdf(slip_of(order, home=home_url(request), today=timezone.localdate()))
        except PdfError:
            messages.error(
                request, gettext("The packing slip could not be made. The order is unchanged. Please tell support.")
            )
            return redirect("repairs:order", pk)
        return file_response(pdf, name=f"packing-slip-{order.instrument.asset_number}.pdf")
