"""The bench sheet on paper."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from core.pdf import PdfError
from core.responses import file_response, home_url
from core.views import StaffRequest, StaffView
from repairs.pages.sheet import sheet_of
from repairs.pdf import bench_sheet_pdf
from repairs.selectors.planning import job_state
from repairs.views.rows import job_or_404


class SheetView(StaffView):
    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, "repairs.view_job")
        sheet = sheet_of(job_state(job), home=home_url(request), today=timezone.localdate())
        try:
            pdf = bench_sheet_pdf(sheet)
        except PdfError:
            messages.error(
                request, "The sheet could not be laid out. The job itself is untouched; please tell support."
            )
            return redirect("repairs:job", pk)
        return file_response(pdf, name=f"bench-sheet-{job.instrument.asset_number}.pdf")
