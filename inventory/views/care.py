"""Cleaning between players, accessory counts, whereabouts, problem reports and photos.

Photos are shown only to those who may see the instrument; never by the address of a file.
"""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import FormView, StaffRequest, StaffView, row_or_404
from inventory.exceptions import RefusedError
from inventory.forms.care import AnswerForm, HygieneForm, PhotoForm, WhereaboutsForm
from inventory.forms.inspecting import CountsForm
from inventory.models import Instrument, Photo, ProblemReport, ProblemReportQuerySet, Whereabouts
from inventory.pages.drawing import photo_lines
from inventory.services.care import answer_report, confirm_report, keep_photo, record_cleaning
from inventory.services.inspecting import count_accessories
from inventory.services.state import move_instrument
from inventory.views.rows import InstrumentFormView

REPORTS_SHOWN = 40
PHOTOS_SHOWN = 200
# From where it may be recorded as not found, or as found again.
MOVES = {Whereabouts.IN_STORE: Whereabouts.NOT_FOUND, Whereabouts.NOT_FOUND: Whereabouts.IN_STORE}


class HygieneView(InstrumentFormView):
    """Mouthpieces and necks are cleaned between players; each item is checked off."""

    permission_required = "inventory.clean_instrument"
    template_name = "inventory/hygiene.html"

    def form(self, row: Instrument, data: Any = None) -> HygieneForm:
        return HygieneForm(data, kind=row.kind, owed=row.owed)

    def save(self, row: Instrument, form: HygieneForm) -> str:
        data = form.cleaned_data
        record_cleaning(
            instrument=row,
            done=form.cleaned,
            product=data["product"],
            wet_minutes=data["wet_minutes"],
            nonce=data["nonce"],
            **self.actor_and_time(),
        )
        words = gettext("%(number)s is clean for the next player.")
        return self.done(words % {"number": row.asset_number}, "desk:instrument", row.asset_number)


class AccessoriesView(InstrumentFormView):
    """Count accessories. A missing one keeps the instrument in, or is named at hand-out."""

    permission_required = "inventory.inspect_instrument"
    template_name = "inventory/accessories.html"

    def form(self, row: Instrument, data: Any = None) -> CountsForm:
        rows = list(row.accessories.all())
        counted = {one.code: one.present for one in rows if one.present is not None}
        return CountsForm(data, accessories=rows, counts=counted)

    def save(self, row: Instrument, form: CountsForm) -> str:
        count_accessories(instrument=row, counts=form.counts, **self.actor_and_time())
        return self.done(gettext("Accessories counted."), "desk:instrument", row.asset_number)


class WhereaboutsView(InstrumentFormView):
    """Record that it cannot be found, or that it has turned up."""

    permission_required = "inventory.move_instrument"
    template_name = "inventory/whereabouts.html"
    form_class = WhereaboutsForm

    def context(self, row: Instrument, form: WhereaboutsForm) -> dict[str, Any]:
        if form.errors:  # somebody else may have moved it since it was read
            row.refresh_from_db(fields=["whereabouts"])
        return {
            "spans": row.custodies.select_related("actor")[:12],
            "to": MOVES.get(Whereabouts(row.whereabouts), ""),
        }

    def save(self, row: Instrument, form: WhereaboutsForm) -> str:
        to = form.cleaned_data["to"]
        expected = next(old for old, new in MOVES.items() if new == to)
        move_instrument(instrument=row, expected=expected, to=to, **self.actor_and_time())
        words = gettext("Recorded as not found.") if to == Whereabouts.NOT_FOUND else gettext("Recorded as found.")
        return self.done(words, "desk:instrument", row.asset_number)


class ReportsView(StaffView):
    """Reports from the tag that nobody has checked yet; answered ones behind a link."""

    permission_required = "inventory.handle_report"

    def get(self, request: StaffRequest) -> HttpResponse:
        answered = "answered" in request.GET
        rows = reports_of(request)
        shown = rows.exclude(closed_at=None) if answered else rows.unanswered()
        ordered = shown.order_by("-closed_at" if answered else "-said_at", "-pk")
        page: Any = Paginator(ordered, REPORTS_SHOWN).get_page(request.GET.get("page"))
        page.object_list = page.object_list.keys_first().select_related(
            "instrument__school", "closed_by", "confirmed_by"
        )
        return render(request, "inventory/reports.html", {"page": page, "answered": answered})


def reports_of(request: StaffRequest) -> ProblemReportQuerySet:
    """The reports about instruments of schools where the user may answer them."""
    return ProblemReport.objects.visible_to(request.user, "inventory.handle_report")


class ConfirmReportView(StaffView):
    """Keep the instrument in until the report is answered."""

    permission_required = "inventory.handle_report"

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        report = row_or_404(reports_of(request).select_related("instrument"), pk=pk)
        try:
            confirm_report(report=report, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            words = gettext("%(number)s stays in until the report is answered.")
            messages.success(request, words % {"number": report.instrument.asset_number})
        return redirect("inventory:reports")


class AnswerReportView(FormView):
    """Close a report with a note on what was found."""

    permission_required = "inventory.handle_report"
    template_name = "inventory/answer_report.html"
    row_name = "report"
    form_class = AnswerForm

    def row(self, **lookup: Any) -> ProblemReport:
        return row_or_404(reports_of(self.request).select_related("instrument__school", "closed_by"), **lookup)

    def save(self, row: ProblemReport, form: AnswerForm) -> str:
        answer_report(report=row, **self.actor_and_time(), answer=form.cleaned_data["answer"])
        return self.done(gettext("Answered. The report does not keep the instrument in."), "inventory:reports")


class PhotoView(StaffView):
    """The picture itself, "full" or "small"."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, pk: int, size: str) -> HttpResponse:
        if size not in {"full", "small"}:
            raise Http404("no such size")
        photo = row_or_404(Photo.objects.visible_to(request.user), pk=pk)
        try:
            with (photo.image if size == "full" else photo.small).open("rb") as file:
                content = file.read()
        except FileNotFoundError:
            raise Http404("the picture is not in the store") from None
        # The content of an address never changes, but the next person at this browser may not be allowed to see it.
        headers = {"Cache-Control": "private, no-cache", "X-Content-Type-Options": "nosniff"}
        return HttpResponse(content, content_type="image/jpeg", headers=headers)


class PhotosView(InstrumentFormView):
    """All photos of an instrument, and a new one."""

    uploads = 1
    permission_required = "inventory.inspect_instrument"
    template_name = "inventory/photos.html"
    form_class = PhotoForm

    def context(self, row: Instrument, form: PhotoForm) -> dict[str, Any]:
        return {"photos": photo_lines(row.kind, row.photos.all()[:PHOTOS_SHOWN])}

    def save(self, row: Instrument, form: PhotoForm) -> str:
        keep_photo(instrument=row, **self.actor_and_time(), **form.cleaned_data)
        return self.done(gettext("Photo saved."), "inventory:photos", row.asset_number)
