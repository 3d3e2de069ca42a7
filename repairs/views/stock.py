"""What a bench has in stock, and what to buy."""

from __future__ import annotations

from collections import Counter
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.days import short_day
from core.responses import file_response
from core.sheets import OutValue, write_csv
from core.tables import FILE_FORMS
from core.views import StaffRequest, StaffView, pdf_response, row_or_404
from inventory.access import has_perm_at_school
from repairs.forms.stock import CountForm, JobsForm, MoveForm, ReceiveForm, ReverseForm, StockChangeForm, StockItemForm
from repairs.models import Bench, BenchQuerySet, StockItem, StockItemQuerySet, StockMove
from repairs.pages.stock import STOCK_HEADER, move_words, moves_of, stock_rows
from repairs.pdf import shopping_pdf
from repairs.rules.quantities import stock_words
from repairs.selectors.budgets import budgets_to_choose
from repairs.selectors.stock import Shopping, fits_of, shopping_for, stock_lines
from repairs.services.stock import (
    add_stock_item,
    bring_back_stock_item,
    change_stock_item,
    count_stock,
    move_stock,
    receive_stock,
    retire_stock_item,
    reverse_stock_move,
)
from repairs.views.one_form import OneFormView

CSV_HEADER = (
    _("Item"),
    _("Unit"),
    _("For the jobs"),
    _("On hand"),
    _("Keep at least"),
    _("Buy"),
    _("Price each"),
    _("Cost"),
    _("Jobs"),
    _("Supplier"),
    _("Part number"),
)
CHANGE = "repairs.change_stock"


def benches_for(request: StaffRequest, permission: str) -> BenchQuerySet:
    return Bench.objects.visible_to(request.user, permission).select_related("school")


def parts_instruments() -> dict[str, str]:
    return {"label": gettext("Parts instruments"), "url": reverse("repairs:parts-horns")}


class StockView(StaffView):
    """The benches; with one alone, straight to it."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest) -> HttpResponse:
        benches = list(benches_for(request, self.permission_required).in_use())
        if len(benches) == 1:
            return redirect("repairs:bench-stock", benches[0].code)
        items = StockItem.objects.visible_to(request.user, self.permission_required).under_level()
        low = Counter(items.filter(bench__in=benches).values_list("bench", flat=True))
        lines = [{"bench": bench, "low": low[bench.pk]} for bench in benches]
        return render(request, "repairs/stock_benches.html", {"lines": lines, "acts": [parts_instruments()]})


class BenchStockView(StaffView):
    """Every item of a bench, what needs somebody first."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, code: str) -> HttpResponseBase:
        mine = benches_for(request, self.permission_required)
        bench = row_or_404(mine, code=code)
        lines = stock_lines(bench)
        file = self.export_lines(
            what="stock", title=gettext("Stock of %(bench)s") % {"bench": bench}, header=STOCK_HEADER,
            rows=stock_rows(lines), count=len(lines), schools=[bench.school_id], under=str(bench.school),
        )  # fmt: skip
        if file:
            return file
        may_change = has_perm_at_school(request.user, CHANGE, bench.school_id) and bench.retired_at is None
        add = {"label": gettext("Add stock item"), "url": reverse("repairs:add-stock", args=[code])}
        context = {
            "bench": bench,
            "acts": [parts_instruments(), add] if may_change else [parts_instruments()],
            "lines": lines,
            "files": FILE_FORMS,
            "retired": bench.stock.exclude(retired_at=None),
            "benches": [one for one in mine.in_use() if one.pk != bench.pk],
            "may_change": may_change,
        }
        return render(request, "repairs/stock.html", context)


class AddStockView(OneFormView):
    permission_required = CHANGE
    form_class, service, subject = StockItemForm, staticmethod(add_stock_item), "bench"
    title, button, back = _("Add stock item"), _("Add stock item"), _("Stock")

    def row(self, **lookup: Any) -> Bench:
        return row_or_404(benches_for(self.request, self.permission_required), **lookup)

    def form_kwargs(self, row: Bench) -> dict[str, Any]:
        return {"bench": row}

    def back_url(self, row: Bench) -> str:
        return reverse("repairs:bench-stock", args=[row.code])

    def next_url(self, row: Bench, result: StockItem) -> str:
        return reverse("repairs:stock-count", args=[result.pk])

    def message(self, row: Bench, result: StockItem) -> str:
        return gettext("Added: %(item)s. Now enter how many are in stock.") % {"item": result}


def items_for(request: StaffRequest, permission: str) -> StockItemQuerySet:
    rows = StockItem.objects.visible_to(request.user, permission)
    return rows.select_related("bench", "bench__school")


def other_benches(request: StaffRequest, item: StockItem) -> BenchQuerySet:
    """Benches that the user may change the stock of, without the item's own."""
    return benches_for(request, CHANGE).in_use().exclude(pk=item.bench_id)


class StockItemView(StaffView):
    """One item: what is in stock, its moves, and where it has fitted."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        item = row_or_404(items_for(request, self.permission_required).select_related("retired_by"), pk=pk)
        may_change = has_perm_at_school(request.user, CHANGE, item.bench.school_id)
        context = {
            "item": item,
            "moves": moves_of(item),
            "fits": fits_of(item),
            "may_change": may_change,
            "ways": self.ways(request, item) if may_change and item.retired_at is None else [],
        }
        return render(request, "repairs/stock_item.html", context)

    def ways(self, request: StaffRequest, item: StockItem) -> list[dict[str, str]]:
        named = [(gettext("Edit it"), "stock-change"), (gettext("Retire it"), "stock-retire")]
        if other_benches(request, item).exists():
            named.insert(1, (gettext("Move to another bench"), "stock-move"))
        return [{"label": label, "url": reverse(f"repairs:{name}", args=[item.pk])} for label, name in named]


class ItemFormView(OneFormView):
    """A form about one item."""

    permission_required = CHANGE
    subject = "item"

    def row(self, **lookup: Any) -> StockItem:
        return row_or_404(items_for(self.request, self.permission_required), **lookup)

    def context(self, row: StockItem, form: Any) -> dict[str, Any]:
        lead = gettext("%(quantity)s on record") % {"quantity": stock_words(row.quantity, unit=row.shown_unit)}
        return super().context(row, form) | {"lead": lead, "back": str(row)}

    def over(self, row: StockItem) -> str:
        return f"{row} · {row.bench}"

    def back_url(self, row: StockItem) -> str:
        return reverse("repairs:stock-item", args=[row.pk])

    def next_url(self, row: StockItem, result: Any) -> str:
        return reverse("repairs:bench-stock", args=[row.bench.code])

    def message(self, row: StockItem, result: Any) -> str:
        return self.success_message % {"item": row}


class ReceiveStockView(ItemFormView):
    form_class, service = ReceiveForm, staticmethod(receive_stock)
    title, success_message = _("Receive stock"), _("Received: %(item)s.")

    def form_kwargs(self, row: StockItem) -> dict[str, Any]:
        return {"budgets": budgets_to_choose(row.bench.school_id, today=timezone.localdate())}


class CountStockView(ItemFormView):
    form_class, service = CountForm, staticmethod(count_stock)
    title, button = _("Count it"), _("Save the count")

    def message(self, row: StockItem, result: Decimal) -> str:
        words = gettext("Counted: %(item)s, %(change)s.") if result else gettext("Counted: %(item)s, as on record.")
        return words % {"item": row, "change": f"{result.normalize():+f}"}


class ChangeStockView(ItemFormView):
    form_class, service = StockChangeForm, staticmethod(change_stock_item)
    title, success_message = _("Edit it"), _("Saved: %(item)s.")

    def form_kwargs(self, row: StockItem) -> dict[str, Any]:
        return {"item": row}


class MoveStockView(ItemFormView):
    form_class, service = MoveForm, staticmethod(move_stock)
    title, button, success_message = _("Move to another bench"), _("Move it"), _("Moved: %(item)s.")

    def form_kwargs(self, row: StockItem) -> dict[str, Any]:
        return {"benches": other_benches(self.request, row)}


class RetireStockView(ItemFormView):
    service = staticmethod(retire_stock_item)
    title, button, success_message = _("Retire it"), _("Retire it"), _("Retired: %(item)s. Its history stays.")

    def context(self, row: StockItem, form: Any) -> dict[str, Any]:
        words = super().context(row, form)
        lead = gettext("%(on_record)s. No list offers it then; its history stays, and it can come back.")
        return words | {"lead": lead % {"on_record": capfirst(words["lead"])}}


class BringBackStockView(ItemFormView):
    service = staticmethod(bring_back_stock_item)
    title, button, success_message = _("Bring it back"), _("Bring it back"), _("Back in stock lists: %(item)s.")

    def next_url(self, row: StockItem, result: Any) -> str:
        return self.back_url(row)


class ReverseMoveView(OneFormView):
    """Take back a wrong receipt, use or count."""

    permission_required = CHANGE
    form_class, service, subject = ReverseForm, staticmethod(reverse_stock_move), "move"
    title, button = _("Reverse it"), _("Reverse it")

    def row(self, **lookup: Any) -> StockMove:
        moves = StockMove.objects.filter(item__in=StockItem.objects.visible_to(self.request.user, CHANGE))
        return row_or_404(moves.select_related("item__bench", "actor"), **lookup)

    def context(self, row: StockMove, form: Any) -> dict[str, Any]:
        data = {"what": move_words(row, item=row.item), "who": row.actor, "day": short_day(timezone.localdate(row.at))}
        return super().context(row, form) | {
            "lead": gettext("%(what)s, by %(who)s on %(day)s.") % data,
            "back": str(row.item),
        }

    def over(self, row: StockMove) -> str:
        return f"{row.item} · {row.item.bench}"

    def back_url(self, row: StockMove) -> str:
        return reverse("repairs:stock-item", args=[row.item_id])

    def message(self, row: StockMove, result: StockMove) -> str:
        left = stock_words(result.after_quantity, unit=row.item.shown_unit)
        return gettext("Reversed. On record now: %(left)s.") % {"left": left}


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
    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        shopping = self.shopping(code)[0]
        return pdf_response(
            request,
            lambda: shopping_pdf(shopping),
            name=f"shopping-{code}.pdf",
            failed=gettext("The list could not be made. It is all on this page. Please contact support."),
            back=redirect("repairs:shopping", code),
        )


def _plain(amount: Decimal) -> Decimal:
    """Return the figure without idle zeros, never as a power of ten."""
    return Decimal(f"{amount.normalize():f}")


class ShoppingCsvView(ShoppingView):
    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        shopping = self.shopping(code)[0]
        rows: list[tuple[OutValue, ...]] = [
            (
                line.item.name, line.item.unit, _plain(line.needed), _plain(line.item.on_hand), _plain(line.item.reorder_level),
                line.buy, line.item.each_amount,
                line.cost_amount, ", ".join(line.jobs), line.item.supplier, line.item.part_number,
            )
            for line in (*shopping.list.lines, *shopping.list.enough)
        ]  # fmt: skip
        self.note_export("shopping list", form="csv", rows=len(rows), schools=[shopping.bench.school_id])
        csv = write_csv(header=[str(name) for name in CSV_HEADER], rows=rows)
        return file_response(csv, name=f"shopping-{code}.csv", is_download=True)
