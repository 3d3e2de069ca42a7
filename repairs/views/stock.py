"""What a bench has in stock, and what to buy."""

from __future__ import annotations

from decimal import Decimal
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

from core.pdf import PdfError
from core.responses import file_response
from core.sheets import OutValue, write_csv
from core.views import StaffRequest, StaffView, row_or_404
from inventory.access import has_perm_at_school
from repairs.forms.stock import CountForm, JobsForm, ReceiveForm, StockChangeForm, StockItemForm
from repairs.models import Bench, BenchQuerySet, StockItem, StockItemQuerySet
from repairs.pdf import shopping_pdf
from repairs.rules.quantities import stock_words
from repairs.selectors.stock import Shopping, fits_of, shopping_for, stock_lines
from repairs.services.stock import add_stock_item, change_stock_item, count_stock, receive_stock
from repairs.views.one_form import OneFormView

CSV_HEADER = ("Thing", "Unit", "For the jobs", "On hand", "Keep at least", "Buy", "Price of one", "Cost", "Jobs")


def benches_for(request: StaffRequest, permission: str) -> BenchQuerySet:
    return Bench.objects.visible_to(request.user, permission).select_related("school")


class StockView(StaffView):
    """The benches; with one alone, straight to it."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest) -> HttpResponse:
        benches = list(benches_for(request, self.permission_required))
        if len(benches) == 1:
            return redirect("repairs:bench-stock", benches[0].code)
        low = {bench.pk: bench.stock.under_level().count() for bench in benches}
        lines = [{"bench": bench, "low": low[bench.pk]} for bench in benches]
        return render(request, "repairs/stock_benches.html", {"lines": lines})


class BenchStockView(StaffView):
    """Every item of a bench, what needs somebody first."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        bench = row_or_404(benches_for(request, self.permission_required), code=code)
        context = {
            "bench": bench,
            "lines": stock_lines(bench),
            "benches": [one for one in benches_for(request, self.permission_required) if one.pk != bench.pk],
            "may_change": has_perm_at_school(request.user, "repairs.change_stock", bench.school_id),
        }
        return render(request, "repairs/stock.html", context)


class AddStockView(OneFormView):
    permission_required = "repairs.change_stock"
    button = _("Add it")

    def row(self, **lookup: Any) -> Bench:
        return row_or_404(benches_for(self.request, self.permission_required), **lookup)

    def form(self, row: Bench, data: Any = None) -> forms.Form:
        return StockItemForm(data, bench=row)

    def save(self, row: Bench, form: forms.Form) -> str:
        item = add_stock_item(bench=row, **self.actor_and_time(), **form.cleaned_data)
        words = gettext("Added: %(item)s. Now enter how many are in stock.")
        messages.success(self.request, words % {"item": item.name})
        return reverse("repairs:stock-count", args=[item.pk])

    def heading(self, row: Bench) -> dict[str, Any]:
        return {
            "title": gettext("Add to stock"),
            "over": row.name,
            "back_url": reverse("repairs:bench-stock", args=[row.code]),
            "back": gettext("Stock"),
        }


def items_for(request: StaffRequest, permission: str) -> StockItemQuerySet:
    rows = StockItem.objects.visible_to(request.user, permission)
    return rows.select_related("bench", "bench__school")


class StockItemView(StaffView):
    """One item: what is in stock, its moves, and where it has fitted."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        item = row_or_404(items_for(request, self.permission_required), pk=pk)
        moves = item.moves.select_related("actor", "attempt__job__instrument")[:40]
        context = {
            "item": item,
            "moves": moves,
            "fits": fits_of(item),
            "may_change": has_perm_at_school(request.user, "repairs.change_stock", item.bench.school_id),
        }
        return render(request, "repairs/stock_item.html", context)


class ItemFormView(OneFormView):
    """A form about one item."""

    permission_required = "repairs.change_stock"
    title: str | Promise = ""

    def row(self, **lookup: Any) -> StockItem:
        return row_or_404(items_for(self.request, self.permission_required), **lookup)

    def heading(self, row: StockItem) -> dict[str, Any]:
        lead = gettext("%(quantity)s on the books") % {"quantity": stock_words(row.quantity, unit=row.unit)}
        return {
            "title": self.title,
            "over": f"{row.name} · {row.bench}",
            "lead": lead,
            "back_url": reverse("repairs:stock-item", args=[row.pk]),
            "back": row.name,
        }

    def saved(self, row: StockItem, message: str) -> str:
        messages.success(self.request, message)
        return reverse("repairs:bench-stock", args=[row.bench.code])


class ReceiveStockView(ItemFormView):
    permission_required = "repairs.change_stock"
    title, button = _("Receive stock"), _("Save")

    def form(self, row: StockItem, data: Any = None) -> forms.Form:
        return ReceiveForm(data)

    def save(self, row: StockItem, form: forms.Form) -> str:
        receive_stock(item=row, **self.actor_and_time(), **form.cleaned_data)
        return self.saved(row, gettext("Received: %(item)s.") % {"item": row.name})


class CountStockView(ItemFormView):
    permission_required = "repairs.change_stock"
    title, button = _("Count it"), _("Save the count")

    def form(self, row: StockItem, data: Any = None) -> forms.Form:
        return CountForm(data)

    def save(self, row: StockItem, form: forms.Form) -> str:
        change = count_stock(item=row, **self.actor_and_time(), **form.cleaned_data)
        words = gettext("Counted: %(item)s, %(change)s.") if change else gettext("Counted: %(item)s, as on the books.")
        return self.saved(row, words % {"item": row.name, "change": f"{change.normalize():+f}"})


class ChangeStockView(ItemFormView):
    permission_required = "repairs.change_stock"
    title = _("Edit it")

    def form(self, row: StockItem, data: Any = None) -> forms.Form:
        return StockChangeForm(data, item=row)

    def save(self, row: StockItem, form: forms.Form) -> str:
        change_stock_item(item=row, **self.actor_and_time(), **form.cleaned_data)
        return self.saved(row, gettext("Saved: %(item)s.") % {"item": row.name})


class ShoppingView(StaffView):
    """What to buy for the next jobs: page, paper and table of the same list."""

    permission_required = "repairs.view_stock"

    def shopping(self, code: str) -> tuple[Shopping, JobsForm]:
        bench = row_or_404(benches_for(self.request, self.permission_required), code=code)
        form = JobsForm(self.request.GET or {"jobs": 5})
        jobs = form.cleaned_data["jobs"] if form.is_valid() else 5
        return shopping_for(bench, jobs=jobs, at=timezone.now()), form

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        shopping, form = self.shopping(code)
        context = {"shopping": shopping, "form": form, "query": f"jobs={len(shopping.jobs)}"}
        return render(request, "repairs/shopping.html", context, status=422 if form.errors else 200)


class ShoppingPdfView(ShoppingView):
    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        shopping = self.shopping(code)[0]
        try:
            pdf = shopping_pdf(shopping)
        except PdfError:
            messages.error(request, gettext("The list could not be made. It is all on this page. Please tell support."))
            return redirect("repairs:shopping", code)
        return file_response(pdf, name=f"shopping-{code}.pdf")


def _plain(amount: Decimal) -> Decimal:
    """Return the figure without idle zeros, never as a power of ten."""
    return Decimal(f"{amount.normalize():f}")


class ShoppingCsvView(ShoppingView):
    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        shopping = self.shopping(code)[0]
        rows: list[tuple[OutValue, ...]] = [
            (
                line.name, line.unit, _plain(line.needed), _plain(line.on_hand), _plain(line.reorder_level), line.buy, line.each_amount,
                line.cost_amount, ", ".join(line.jobs),
            )
            for line in (*shopping.list.lines, *shopping.list.enough)
        ]  # fmt: skip
        csv = write_csv(header=CSV_HEADER, rows=rows)
        return file_response(csv, name=f"shopping-{code}.csv", is_download=True)
