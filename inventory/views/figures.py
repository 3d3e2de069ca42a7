"""The district's figures: all of them, one with its history, and one called off."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import FormView, StaffRequest, StaffView, row_or_404
from inventory.catalog.figures import FigureRule
from inventory.catalog.load import override_folder
from inventory.exceptions import RefusedError
from inventory.forms.figures import USE_DEFAULT, FigureForm
from inventory.models import Figure
from inventory.pages.figures import LONG, groups_of, history_of, next_words, origin_words
from inventory.selectors.figures import in_force, is_recompute_due, newest, reasons_of, rules, set_on, to_come
from inventory.services.figures import call_off, set_figures

SETTINGS = "inventory.manage_settings"
MOST_TYPED = 100


class FiguresView(StaffView):
    """Every figure that the rules go by, with where it comes from; by topic, or those that hold the words asked for."""

    permission_required = SETTINGS

    def get(self, request: StaffRequest) -> HttpResponse:
        now = timezone.now()
        held = in_force(at=now)
        typed = request.GET.get("q", "").strip()[:MOST_TYPED]
        group = request.GET.get("group", "")
        only = group if group in LONG else ""
        groups = groups_of(
            rules(),
            values=held.values,
            rows=set_on(held.values, day=held.day),
            to_come=to_come(day=held.day, values=held.values),
            typed=typed,
            only=only,
        )
        shown = {
            "groups": groups,
            "only": only,
            "q": typed,
            "own_folder": override_folder(),
            "is_pending": is_recompute_due(at=now),
        }
        return render(request, "inventory/figures.html", shown)


class FigureView(FormView):
    """One figure: what holds, what is to come, what was before; a new value from a day on."""

    permission_required = SETTINGS
    template_name = "inventory/figure.html"
    row_name = "rule"

    def row(self, **lookup: Any) -> FigureRule:
        if lookup["key"] not in rules():
            raise Http404("no such figure")
        return rules()[lookup["key"]]

    def form(self, row: FigureRule, data: Any = None) -> FigureForm:
        held = in_force(at=timezone.now())
        return FigureForm(data, rule=row, value=held.values.get(row.key, row.default), today=held.day)

    def context(self, row: FigureRule, form: FigureForm) -> dict[str, Any]:
        held = in_force(at=timezone.now())
        value, rows = held.values.get(row.key, ""), newest(row.key)
        begun = next((one for one in rows if one.effective_on <= held.day), None)
        next_row = to_come(day=held.day, values=held.values).get(row.key)
        return {
            "value": row.in_words(value or row.default),
            "origin": origin_words(row, value=value, row=begun),
            "beneath": row.in_words(row.default),
            "use_default": (USE_DEFAULT, "1", gettext("Use the default again")) if value else None,
            "next": next_words(row, next_row) if next_row else "",
            "history": history_of(row, rows, next_row=next_row, reasons=reasons_of(rows)),
        }

    def save(self, row: FigureRule, form: FigureForm) -> str:
        sent, by = form.cleaned_data, self.actor_and_time()
        values, day = {row.key: sent["value"]}, sent["effective_on"]
        why = {"because": sent["because"], "nonce": sent["nonce"]}
        made = set_figures(values=values, effective_on=day, **why, **by)
        if not made:
            raise RefusedError(gettext("It already has this value on that day. Nothing was changed."))
        return self.done(gettext("Saved: %(figure)s.") % {"figure": row.name}, "inventory:figure", row.key)


class CallOffView(StaffView):
    """A value that has not begun is called off."""

    permission_required = SETTINGS
    http_method_names = ["post"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        figure = row_or_404(Figure.objects.all(), pk=pk)
        call_off(figure=figure, actor=request.user, at=timezone.now())
        return redirect("inventory:figure", figure.key)
