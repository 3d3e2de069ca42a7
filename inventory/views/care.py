"""Cleaning between players, accessory counts, whereabouts, and problem reports."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, row_or_404
from inventory.exceptions import RefusedError
from inventory.forms.care import AnswerForm, HygieneForm, WhereaboutsForm
from inventory.forms.inspecting import CountsForm
from inventory.models import Instrument, ProblemReport, ProblemReportQuerySet, Whereabouts
from inventory.services.care import answer_report, record_hygiene
from inventory.services.inspecting import count_accessories
from inventory.services.state import move_instrument
from inventory.views.rows import instrument_for

REPORTS_SHOWN = 40
# From where it may be recorded as not found, or as found again.
MOVES = {Whereabouts.IN_STORE: Whereabouts.NOT_FOUND, Whereabouts.NOT_FOUND: Whereabouts.IN_STORE}


class OneInstrumentView(StaffView):
    """A page about one instrument at a school where the user holds the page's permission."""

    permission_required = "inventory.view_instrument"

    def instrument(self, asset_number: str) -> Instrument:
        return instrument_for(self.request, asset_number, self.permission_required)


class HygieneView(OneInstrumentView):
    """Mouthpieces and necks are cleaned between players; each item is checked off."""

    permission_required = "inventory.clean_instrument"

    def shown(self, instrument: Instrument, form: HygieneForm, *, status: int = 200) -> HttpResponse:
        context: dict[str, Any] = {"instrument": instrument, "form": form}
        return render(self.request, "inventory/hygiene.html", context, status=status)

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = self.instrument(asset_number)
        return self.shown(instrument, HygieneForm(kind=instrument.kind))

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = self.instrument(asset_number)
        form = HygieneForm(request.POST, kind=instrument.kind)
        if not form.is_valid():
            return self.shown(instrument, form, status=422)
        record_hygiene(instrument=instrument, actor=request.user, at=timezone.now())
        messages.success(
            request, gettext("%(number)s is clean for the next player.") % {"number": instrument.asset_number}
        )
        return redirect("desk:instrument", instrument.asset_number)


class AccessoriesView(OneInstrumentView):
    """Count accessories. A missing one keeps the instrument in, or is named at hand-out."""

    permission_required = "inventory.inspect_instrument"

    def form(self, instrument: Instrument, data: Any = None) -> CountsForm:
        rows = list(instrument.accessories.all())
        expected = {row.code: (row.name, row.expected) for row in rows}
        initial = {f"count-{row.code}": row.expected if row.present is None else row.present for row in rows}
        return CountsForm(data, expected=expected, initial=initial)

    def shown(self, instrument: Instrument, form: CountsForm, *, status: int = 200) -> HttpResponse:
        rows = list(instrument.accessories.all())
        context = {"instrument": instrument, "form": form, "lines": [(row, form[f"count-{row.code}"]) for row in rows]}
        return render(self.request, "inventory/accessories.html", context, status=status)

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = self.instrument(asset_number)
        return self.shown(instrument, self.form(instrument))

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = self.instrument(asset_number)
        form = self.form(instrument, request.POST)
        if not form.is_valid():
            return self.shown(instrument, form, status=422)
        count_accessories(instrument=instrument, counts=form.counts, actor=request.user, at=timezone.now())
        messages.success(request, gettext("Accessories counted."))
        return redirect("desk:instrument", instrument.asset_number)


class WhereaboutsView(OneInstrumentView):
    """Record that it cannot be found, or that it has turned up."""

    permission_required = "inventory.move_instrument"

    def shown(self, instrument: Instrument, form: WhereaboutsForm, *, status: int = 200) -> HttpResponse:
        context = {
            "instrument": instrument,
            "form": form,
            "spans": instrument.custodies.select_related("actor")[:12],
            "to": MOVES.get(Whereabouts(instrument.whereabouts), ""),
        }
        return render(self.request, "inventory/whereabouts.html", context, status=status)

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        return self.shown(self.instrument(asset_number), WhereaboutsForm())

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = self.instrument(asset_number)
        form = WhereaboutsForm(request.POST)
        if form.is_valid():
            to = form.cleaned_data["to"]
            expected = next(old for old, new in MOVES.items() if new == to)
            try:
                move_instrument(instrument=instrument, expected=expected, to=to, actor=request.user, at=timezone.now())
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(
                    request,
                    gettext("Recorded as not found.") if to == Whereabouts.NOT_FOUND else gettext("Recorded as found."),
                )
                return redirect("desk:instrument", instrument.asset_number)
        return self.shown(self.instrument(asset_number), form, status=422)


class ReportsView(StaffView):
    """Reports from the tag that nobody has checked yet; answered ones behind a link."""

    permission_required = "inventory.handle_report"

    def get(self, request: StaffRequest) -> HttpResponse:
        answered = "answered" in request.GET
        rows = reports_of(request)
        shown = rows.exclude(closed_at=None).order_by("-closed_at") if answered else rows.unanswered()
        page = Paginator(shown, REPORTS_SHOWN).get_page(request.GET.get("page"))
        context = {"page": page, "answered": answered, "waiting": rows.unanswered().count()}
        return render(request, "inventory/reports.html", context)


def reports_of(request: StaffRequest) -> ProblemReportQuerySet:
    """The reports about instruments of schools where the user may answer them."""
    rows = ProblemReport.objects.visible_to(request.user, "inventory.handle_report")
    return rows.select_related("instrument__school", "closed_by")


class AnswerReportView(StaffView):
    """Close a report with a note on what was found."""

    permission_required = "inventory.handle_report"

    def shown(
        self, request: StaffRequest, report: ProblemReport, form: AnswerForm, *, status: int = 200
    ) -> HttpResponse:
        context = {"report": report, "instrument": report.instrument, "form": form}
        return render(request, "inventory/answer_report.html", context, status=status)

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        return self.shown(request, row_or_404(reports_of(request), pk=pk), AnswerForm())

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        report = row_or_404(reports_of(request), pk=pk)
        form = AnswerForm(request.POST)
        if not form.is_valid():
            return self.shown(request, report, form, status=422)
        answer_report(report=report, actor=request.user, at=timezone.now(), answer=form.cleaned_data["answer"])
        messages.success(request, gettext("Answered. The report no longer keeps the instrument in."))
        return redirect("inventory:reports")
