"""Outside shops: the list with what is away, one shop with how it did."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView, row_or_404
from repairs.forms.shops import ShopChangeForm, ShopForm
from repairs.models import Shop, ShopOrder
from repairs.pages.shops import back_lines, line_of, open_lines, record_lines
from repairs.selectors.shops import approval_limit
from repairs.services.shops import add_shop, change_shop
from repairs.views.one_form import OneFormView

LATEST = 30  # orders shown of one shop


class ShopsView(StaffView):
    """What is away, what is late, what came back; and how the shops compare."""

    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest) -> HttpResponse:
        today, limit = timezone.localdate(), approval_limit()
        context = {
            "open": open_lines(request.user, today=today, limit=limit),
            "back": back_lines(request.user, today=today, limit=limit),
            "records": record_lines(),
            "shops": Shop.objects.all(),
            "may_change": request.user.has_perm("repairs.change_shop"),
            "may_approve": request.user.has_perm("repairs.approve_cost"),
        }
        return render(request, "repairs/shops.html", context)


class ShopView(StaffView):
    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        shop = row_or_404(Shop.objects.all(), pk=pk)
        today, limit = timezone.localdate(), approval_limit()
        orders = ShopOrder.objects.visible_to(request.user).filter(shop=shop).for_table()[:LATEST]
        context = {
            "shop": shop,
            "lines": [line_of(order, today=today, limit=limit) for order in orders],
            "records": record_lines(shop),
            "may_change": request.user.has_perm("repairs.change_shop"),
        }
        return render(request, "repairs/shop.html", context)


class AddShopView(OneFormView):
    permission_required = "repairs.change_shop"
    button = _("Add the shop")

    def row(self, **lookup: Any) -> Shop:
        return Shop()

    def form(self, row: Shop, data: Any = None) -> forms.Form:
        return ShopForm(data)

    def save(self, row: Shop, form: forms.Form) -> str:
        shop = add_shop(**self.actor_and_time(), **form.cleaned_data)
        messages.success(self.request, gettext("Added: %(shop)s.") % {"shop": shop.name})
        return reverse("repairs:shop", args=[shop.pk])

    def heading(self, row: Shop) -> dict[str, Any]:
        return {
            "title": gettext("Add a shop"),
            "lead": gettext("Every school in the district can send to it."),
            "back_url": reverse("repairs:shops"),
            "back": gettext("Shops"),
        }


class ChangeShopView(OneFormView):
    permission_required = "repairs.change_shop"

    def row(self, **lookup: Any) -> Shop:
        return row_or_404(Shop.objects.all(), **lookup)

    def form(self, row: Shop, data: Any = None) -> forms.Form:
        return ShopChangeForm(data, shop=row)

    def save(self, row: Shop, form: forms.Form) -> str:
        change_shop(shop=row, **self.actor_and_time(), **form.cleaned_data)
        messages.success(self.request, gettext("Saved."))
        return reverse("repairs:shop", args=[row.pk])

    def heading(self, row: Shop) -> dict[str, Any]:
        return {
            "title": gettext("Edit the shop"),
            "over": row.name,
            "back_url": reverse("repairs:shop", args=[row.pk]),
            "back": gettext("The shop"),
        }
