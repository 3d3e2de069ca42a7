"""Outside shops: the list with what is away, one shop with how it did."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView, row_or_404
from repairs.forms.shops import NewShopForm, ShopChangeForm
from repairs.models import Shop, ShopOrder
from repairs.pages.shops import lines_of, record_lines
from repairs.selectors.shops import open_orders, orders_back
from repairs.services.shops import add_shop, change_shop
from repairs.views.one_form import OneFormView

LATEST = 30  # orders shown of one shop, and open ones on a page


class ShopsView(StaffView):
    """What is away, what is late, what came back; and how the shops compare."""

    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest) -> HttpResponse:
        today = timezone.localdate()
        approve, add = reverse("repairs:approvals"), reverse("repairs:add-shop")
        acts = [
            {"label": gettext("To approve"), "url": approve, "permission": "repairs.approve_cost"},
            {"label": gettext("Budgets"), "url": reverse("repairs:budgets"), "permission": "repairs.view_budget"},
            {"label": gettext("Add a shop"), "url": add, "permission": "repairs.change_shop"},
        ]
        page = Paginator(open_orders(request.user, today=today), LATEST).get_page(request.GET.get("page"))
        on_page: Any = page.object_list
        context = {
            "open": lines_of(on_page.keys_first().for_table(), today=today),
            "page": page,
            "returned": lines_of(orders_back(request.user), today=today),
            "records": record_lines(),
            "shops": Shop.objects.all(),
            "acts": [act for act in acts if request.user.has_perm(act["permission"])],
        }
        return render(request, "repairs/shops.html", context)


class ShopView(StaffView):
    permission_required = "repairs.view_shop"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        shop = row_or_404(Shop.objects.all(), pk=pk)
        today = timezone.localdate()
        edit = {"label": gettext("Edit"), "url": reverse("repairs:change-shop", args=[pk])}
        orders = ShopOrder.objects.visible_to(request.user).filter(shop=shop).for_table()[:LATEST]
        context = {
            "shop": shop,
            "lines": lines_of(orders, today=today),
            "records": record_lines(shop),
            "acts": [edit] if request.user.has_perm("repairs.change_shop") else [],
        }
        return render(request, "repairs/shop.html", context)


class ChangeShopView(OneFormView):
    permission_required = "repairs.change_shop"
    form_class, service, subject = ShopChangeForm, staticmethod(change_shop), "shop"
    title, back, success_message = _("Edit the shop"), _("The shop"), _("Saved.")

    def row(self, **lookup: Any) -> Shop:
        return row_or_404(Shop.objects.all(), **lookup)

    def form_kwargs(self, row: Shop) -> dict[str, Any]:
        return {"shop": row}

    def back_url(self, row: Shop) -> str:
        return reverse("repairs:shop", args=[row.pk])


class AddShopView(OneFormView):
    permission_required = "repairs.change_shop"
    form_class = NewShopForm
    title, button, back = _("Add a shop"), _("Add the shop"), _("Shops")
    lead = _("Every school in the district can send to it.")

    def row(self, **lookup: Any) -> Shop:
        return Shop()

    def act(self, row: Shop, form: NewShopForm) -> Shop:
        return add_shop(actor=self.request.user, at=timezone.now(), **form.cleaned_data)

    def back_url(self, row: Shop) -> str:
        return reverse("repairs:shops")

    def next_url(self, row: Shop, result: Shop) -> str:
        return reverse("repairs:shop", args=[result.pk])

    def message(self, row: Shop, result: Shop) -> str:
        return gettext("Added: %(shop)s.") % {"shop": result}
