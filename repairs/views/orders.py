"""One order at an outside shop, from the question to the bill."""

from __future__ import annotations

import uuid
from dataclasses import replace
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import OnceForm
from core.keys import keys_of
from core.money import dollars
from core.responses import home_url
from core.views import StaffRequest, StaffView, pdf_response, row_or_404
from inventory.access import has_perm_at_school, is_barred
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.views.rows import InstrumentFormView
from repairs.forms.orders import (
    ApproveForm,
    AskForm,
    BackForm,
    CallOffForm,
    EstimateForm,
    InvoiceForm,
    PromiseForm,
    RefuseForm,
    SendForm,
    TakeBackForm,
)
from repairs.models import Shop, ShopOrder, ShopOrderQuerySet
from repairs.pages.approvals import acts_of, approver_words
from repairs.pages.order_story import undo_of
from repairs.pages.orders import asking, findings_in_words, needing_shop, order_page, shop_work, wanted_work
from repairs.pages.packing_slip import slips_of
from repairs.pages.refused import refusal_notice
from repairs.pdf import packing_slips_pdf
from repairs.rules.shops import allowed_amount, wait_words
from repairs.selectors.budgets import budgets_to_choose, usual_budget
from repairs.selectors.decisions import refusal_of
from repairs.selectors.orders import may_go_too, offered_too, order_events, ordered_with, out_of
from repairs.selectors.shops import approval_limit, likely_shop, limits_today, plan_today
from repairs.services.orders import (
    approve_order,
    ask_together,
    bring_back,
    call_off,
    change_promise,
    note_estimate,
    note_invoice,
    order_work,
    refuse_order,
    return_on_warranty,
    send_together,
    take_back,
)
from repairs.views.one_form import OneFormView


def orders_for(request: StaffRequest, permission: str) -> ShopOrderQuerySet:
    rows = ShopOrder.objects.visible_to(request.user, permission)
    return rows.for_table().select_related("asked_by", "approved_by", "refused_by", "play_test")


class AskShopView(OneFormView, InstrumentFormView):
    """Ask a shop about an instrument; the form is filled from what the bench cannot do itself."""

    permission_required = "repairs.send_out"
    form_class, service, subject = AskForm, staticmethod(ask_together), "instrument"
    title, button, back = _("Ask an outside shop"), _("Write the order"), _("The instrument")

    def form_kwargs(self, row: Instrument) -> dict[str, Any]:
        out = plan_today(row).send_out
        works = shop_work(row, out)
        others = may_go_too(self.request.user, row)
        about = keys_of(self.request.GET.getlist("finding"))
        initial = asking(row, out, works, about)
        return {
            "kind": row.kind, "standing": findings_in_words(row), "wanted": wanted_work(row, works),
            "initial": {
                "shop": likely_shop(initial.get("work", "")), "trip_amount": limits_today().trip, **initial,
                **paid_by(row.school_id),
            },
            "others": others, "offered": needing_shop(offered_too(others, row)),
            "budgets": budgets_to_choose(row.school_id, today=timezone.localdate()),
        }  # fmt: skip

    def context(self, row: Instrument, form: AskForm) -> dict[str, Any]:
        words = gettext("Over %(limit)s, somebody must approve it before it is sent.")
        also = ("then", "send", gettext("Write it and send it off"))
        return super().context(row, form) | {
            "lead": words % {"limit": dollars(approval_limit())}, "also": also,
            "seen": form.seen, "folded": form.folded, "fold": gettext("Promised day, purchase order, more instruments"),
        }  # fmt: skip

    def given(self, form: AskForm) -> dict[str, Any]:
        data = super().given(form)
        also = data.pop("others")
        found = out_of(also)
        data["others"] = []
        for row in also:
            facts, out = found[row.pk]
            its = asking(row, out, shop_work(row, out, facts))
            its = its or {"question": data["question"], "work": data["work"]}
            data["others"].append((row, its | _paid_like(data, row)))
        return data

    def act(self, row: Instrument, form: AskForm) -> ShopOrder:
        order: ShopOrder = super().act(row, form)
        if self.request.POST.get("then") == "send" and order.sent_at is None:
            try:
                return send_together(orders=list(ordered_with(order).for_table()), **self.actor_and_time())
            except RefusedError as error:  # written all the same: its page says what it waits for
                messages.warning(self.request, str(error))
        return order

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        order = ShopOrder.objects.open().filter(instrument=row).first()
        if order is not None:
            return redirect(
                "repairs:order-back" if order.is_away and "back" in request.GET else "repairs:order", order.pk
            )
        if not Shop.objects.filter(is_used=True).exists():
            messages.info(request, gettext("Add a shop first."))
            return redirect("repairs:shops")
        return self.shown(row, self.form(row))

    def back_url(self, row: Instrument) -> str:
        return reverse("desk:instrument", args=[row.asset_number])

    def message(self, row: Instrument, result: ShopOrder) -> str:
        return str(SendView.success_message) if result.sent_at else ""

    def next_url(self, row: Instrument, result: ShopOrder) -> str:
        return job_or_order(result) if result.sent_at else reverse("repairs:order", args=[result.pk])


def _paid_like(data: dict[str, Any], row: Instrument) -> dict[str, Any]:
    """Return how what goes along is paid: as the first, but by its own school's budget."""
    budget = data.get("budget")
    if budget is None or budget.school_id != row.school_id:
        budget = usual_budget(row.school_id, today=timezone.localdate())
    return {name: data[name] for name in ("purchase_order", "is_estimate_only", "trip_amount")} | {"budget": budget}


def paid_by(school_id: int, order: ShopOrder | None = None) -> dict[str, Any]:
    """Return what a form says of who pays before anybody types: as the order has it, else the school's only budget."""
    if order is not None and (order.budget or order.purchase_order):
        return {"budget": order.budget_id, "purchase_order": order.purchase_order}
    return {"budget": usual_budget(school_id, today=timezone.localdate())}


def job_or_order(order: ShopOrder) -> str:
    """Where somebody goes on once it is sent or back: its open job, else the order."""
    is_worked_on = order.job is not None and order.job.closed_at is None
    return reverse("repairs:job", args=[order.job_id]) if is_worked_on else reverse("repairs:order", args=[order.pk])


class OrderView(StaffView):
    """Where an order stands and what comes next."""

    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        order = row_or_404(orders_for(request, self.permission_required), pk=pk)
        page = order_page(order, today=timezone.localdate())
        may_send = has_perm_at_school(request.user, "repairs.send_out", order.instrument.school_id)
        approves = has_perm_at_school(request.user, "repairs.approve_cost", order.instrument.school_id)
        may_approve = approves and not is_barred(request.user, asker_id=order.asked_by_id)
        is_to_go = order.is_open and order.sent_at is None and order.warranty_of_id is None
        refused = refusal_of(order.instrument) if is_to_go and not order.is_estimate_only else None
        if refused and refused.is_lifted_by(order.work_approved_at):
            refused = None
        context = {
            "refused": refusal_notice(refused, reader=request.user) if refused else None,
            "nonce": uuid.uuid4(), "page": page, "order": order, "may_send": may_send,
            "may_undo": approves if page["undo"] and page["undo"]["is_approval"] else may_send,
            "who_approves": page["waits_for"]
            and approver_words(request.user, asker_id=order.asked_by_id, school=order.instrument.school),
            "bar": acts_of(order, may_send=may_send and not refused, may_approve=may_approve),
        }  # fmt: skip
        return render(request, "repairs/order.html", context)


class OrderFormView(OneFormView):
    """A form about one order."""

    permission_required = "repairs.send_out"
    subject = "order"
    back = _("The order")

    def row(self, **lookup: Any) -> ShopOrder:
        return row_or_404(orders_for(self.request, self.permission_required), **lookup)

    def over(self, row: ShopOrder) -> str:
        return f"{row.instrument} · {row.shop}"

    def back_url(self, row: ShopOrder) -> str:
        return reverse("repairs:order", args=[row.pk])


class EstimateView(OrderFormView):
    form_class, service = EstimateForm, staticmethod(note_estimate)
    title, button, success_message = _("Their estimate"), _("Save the estimate"), _("Estimate saved.")

    def form_kwargs(self, row: ShopOrder) -> dict[str, Any]:
        return {"initial": {"on": timezone.localdate(), "promised_on": row.promised_on}}


class PaidByView(OrderFormView, is_base=True):
    """A form that says which budget pays, among those of today and the one that pays now."""

    def form_kwargs(self, row: ShopOrder) -> dict[str, Any]:
        school_id = row.instrument.school_id
        budgets = budgets_to_choose(school_id, today=timezone.localdate(), now=row.budget_id)
        return {"budgets": budgets, "initial": self.initial(row) | paid_by(school_id, row)}

    def initial(self, row: ShopOrder) -> dict[str, Any]:
        return {}


class ApproveOrderView(PaidByView):
    permission_required = "repairs.approve_cost"
    form_class, service = ApproveForm, staticmethod(approve_order)
    title, button, success_message = _("Approve the cost"), _("Approve"), _("Approved.")

    def context(self, row: ShopOrder, form: ApproveForm) -> dict[str, Any]:
        kept = gettext("Your name, the amount and the date are kept with it.")
        lead = " ".join(filter(None, (wait_words(row.money, limits_today()), kept)))
        return super().context(row, form) | {"lead": lead}

    def initial(self, row: ShopOrder) -> dict[str, Any]:
        return {"amount": row.money.wanted}


class RefuseOrderView(OrderFormView):
    permission_required = "repairs.approve_cost"
    form_class, service = RefuseForm, staticmethod(refuse_order)
    title, button, success_message = _("Do not approve it"), _("Do not approve"), _("Not approved. The reason is kept.")

    def context(self, row: ShopOrder, form: RefuseForm) -> dict[str, Any]:
        return super().context(row, form) | {"lead": wait_words(row.money, limits_today())}


class OrderWorkView(OrderFormView):
    service = staticmethod(order_work)
    title, button, success_message = _("Go ahead with the work?"), _("Go ahead"), _("Ordered. Tell the shop to begin.")

    def context(self, row: ShopOrder, form: Any) -> dict[str, Any]:
        words = gettext("The shop does the work for its estimate of %(amount)s. Its bill may come to %(allowed)s.")
        ordered = replace(row.money, is_estimate_only=False)
        allowed = allowed_amount(ordered, limits_today())
        figures = {"amount": dollars(row.estimate_amount), "allowed": dollars(allowed)}
        return super().context(row, form) | {"lead": words % figures}


class SendView(OrderFormView):
    form_class, service = SendForm, staticmethod(send_together)
    title, button, success_message = _("Send it off"), _("Mark as sent"), _("Sent. Put the packing slip in the case.")
    lead = _("It then counts as at the shop. An open job on it stays open and waits.")

    def form_kwargs(self, row: ShopOrder) -> dict[str, Any]:
        unsent = ordered_with(row).filter(sent_at=None, called_off_at=None).exclude(pk=row.pk).for_table()
        together = [(order.pk, str(order.instrument)) for order in unsent]
        initial = {"promised_on": row.promised_on, "on": timezone.localdate(), "others": [pk for pk, _ in together]}
        return {"initial": initial, "together": together}

    def act(self, row: ShopOrder, form: SendForm) -> ShopOrder:
        given = self.given(form)
        others = orders_for(self.request, self.permission_required).filter(pk__in=given.pop("others", []))
        return send_together(orders=[row, *others], **self.actor_and_time(), **given)


class PromiseView(OrderFormView):
    form_class, service = PromiseForm, staticmethod(change_promise)
    title, button, success_message = _("Another day promised"), _("Save the new day"), _("New day saved.")

    def form_kwargs(self, row: ShopOrder) -> dict[str, Any]:
        return {"initial": {"promised_on": row.promised_on}}


class BackView(OrderFormView):
    form_class, service = BackForm, staticmethod(bring_back)
    title, button = _("It is back"), _("Mark as back")
    success_message = _("Back. Play-test it; until then it stays in.")
    lead = _("It goes to the bench if its job is open, otherwise to storage. It stays in until somebody has played it.")

    def form_kwargs(self, row: ShopOrder) -> dict[str, Any]:
        findings = findings_in_words(row.instrument, ids=row.findings)
        return {
            "findings": findings,
            "initial": {
                "on": timezone.localdate(), "put_right": row.findings, "what_was_done": gettext("As asked."),
            },
        }  # fmt: skip

    def next_url(self, row: ShopOrder, result: ShopOrder) -> str:
        return job_or_order(result)


class WarrantyView(StaffView):
    """Back to the same shop to make its work good, at one tap."""

    permission_required = "repairs.send_out"
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        order = row_or_404(orders_for(request, self.permission_required), pk=pk)
        form = OnceForm(request.POST)
        try:
            nonce = form.cleaned_data["nonce"] if form.is_valid() else uuid.uuid4()
            again = return_on_warranty(order=order, nonce=nonce, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
            return redirect("repairs:order", pk)
        words = gettext("%(shop)s is asked to make it good; no charge is expected. Send it off.")
        messages.success(request, words % {"shop": again.shop})
        return redirect("repairs:order", again.pk)


class InvoiceView(PaidByView):
    form_class, service = InvoiceForm, staticmethod(note_invoice)
    title, button, success_message = _("The bill"), _("Save the bill"), _("Bill saved.")

    def initial(self, row: ShopOrder) -> dict[str, Any]:
        known = {"amount": row.invoice_amount, "number": row.invoice_number}
        if row.is_estimate_only and row.invoice_amount is None:
            known["amount"] = row.trip_amount
        return {**known, "on": row.invoice_on or timezone.localdate()}


class CallOffView(OrderFormView):
    form_class, service = CallOffForm, staticmethod(call_off)
    title, button, success_message = _("Cancel the order?"), _("Cancel the order"), _("Order canceled.")


class TakeBackView(OrderFormView):
    """Take the latest act on an order back."""

    form_class, service = TakeBackForm, staticmethod(take_back)
    button = _("Take it back")
    lead = _("The entry stays in the history, with who undid it and why.")
    success_message = _("Undone.")
    undo: dict[str, Any]

    def row(self, **lookup: Any) -> ShopOrder:
        row: ShopOrder = super().row(**lookup)
        self.undo = undo_of(list(order_events(row))) or {"number": 0, "what": gettext("nothing")}
        return row

    def form_kwargs(self, row: ShopOrder) -> dict[str, Any]:
        return {"initial": {"number": self.undo["number"]}}

    def context(self, row: ShopOrder, form: TakeBackForm) -> dict[str, Any]:
        title = gettext("Undo: %(what)s") % {"what": self.undo["what"]}
        return super().context(row, form) | {"title": title}


class TakeApprovalBackView(TakeBackView):
    permission_required = "repairs.approve_cost"


class PackingSlipView(StaffView):
    """The paper that goes into the case."""

    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        order = row_or_404(orders_for(request, self.permission_required), pk=pk)
        rows = orders_for(request, self.permission_required)
        together = rows.filter(pk__in=ordered_with(order), called_off_at=None) if "all" in request.GET else rows.none()
        orders = list(together.order_by("pk").prefetch_related("instrument__accessories")) or [order]
        slips = slips_of(orders, home=home_url(request), today=timezone.localdate())
        return pdf_response(
            request,
            lambda: packing_slips_pdf(slips),
            name=f"packing-slip-{order.instrument.asset_number}.pdf",
            failed=gettext("The packing slip could not be made. The order is unchanged. Please contact support."),
            back=redirect("repairs:order", pk),
        )
