"""The property record of federal rules, with what is missing; what was done to keep an instrument working."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.pdf_lists import list_pdf
from core.tables import FILE_FORMS
from core.views import StaffRequest, StaffView
from desk.forms.property import PropertyForm
from desk.pages.property import (
    HEADER,
    MAINTENANCE_HEADER,
    ON_PAPER,
    SCOPE_LABELS,
    count_lines,
    maintenance_rows,
    missing_words,
    record_rows,
    summary,
)
from inventory.models import Instrument, schools_of
from inventory.selectors.property import ALL, SCOPES, held, missing_counts, with_missing
from inventory.selectors.setup import district_name
from inventory.views.rows import instrument_for

VIEW = "desk.view_value"
PER_PAGE = 50


class PropertyView(StaffView):
    """What the property record lacks, and of which instruments."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        form, today = PropertyForm(request.GET or None), timezone.localdate()
        scope, without = form.chosen()
        schools = schools_of(request.user, VIEW)
        counts = missing_counts(schools, scope=scope, today=today)
        rows = held(Instrument.objects.visible_to(request.user, VIEW), scope=scope, without=without)
        paginator = Paginator(rows.order_by("asset_number"), PER_PAGE)
        paginator.count = counts[without or ALL]  # known already, and slow to count
        page: Any = paginator.get_page(request.GET.get("page"))
        page.object_list = with_missing(page.object_list.keys_first().for_table())
        context = {
            "form": form,
            "scope": SCOPE_LABELS[scope],
            "summary": summary(counts, scope=scope),
            "counts": count_lines(counts, scope=scope),
            "page": page,
            "lines": [{"row": row, "missing": ", ".join(missing_words(row))} for row in page],
            "query": request.GET.urlencode(),
        }
        return render(request, "desk/property.html", context)


class PropertyExportView(StaffView):
    """The property record as a file; disposals are in it where they are asked for."""

    permission_required = VIEW

    def get(self, request: StaffRequest, form: str) -> HttpResponseBase:
        if form not in FILE_FORMS:
            raise Http404("no such form")
        scope, without = PropertyForm(request.GET or None).chosen()
        mine = Instrument.objects.visible_to(request.user, VIEW)
        rows = held(mine, scope=scope, without=without)
        if not without:
            rows = rows | mine.out_of_fleet().filter(SCOPES[scope])
        return self.list_file(
            name=f"property-record-{timezone.localdate()}.{form}",
            what="property record",
            title=gettext("Property record"),
            header=HEADER,
            rows=record_rows(rows),
            count=rows.count(),
            schools=[school.pk for school in schools_of(request.user, VIEW)],
            under=str(SCOPE_LABELS[scope]),
            back="desk:property",
            on_paper=ON_PAPER,
        )


class MaintenanceView(StaffView):
    """What was done to keep one instrument working, as PDF: the evidence for its property record."""

    permission_required = "inventory.view_instrument"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        return self.export_pdf(
            lambda: list_pdf(
                title=gettext("Maintenance of %(number)s") % {"number": instrument}, header=MAINTENANCE_HEADER,
                rows=maintenance_rows(instrument), at=timezone.now(), under=f"{district_name()} · {instrument.school}",
            ),
            what="maintenance",
            schools=[instrument.school_id],
            name=f"maintenance-{instrument.asset_number}.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=redirect("desk:instrument", instrument.asset_number),
        )  # fmt: skip
