"""The list of jobs, taking an instrument to the bench, and the bench sheet on paper."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.responses import home_url
from core.tables import show_page
from core.views import StaffRequest, StaffView, pdf_response
from inventory.models import Instrument, schools_of
from inventory.views.rows import InstrumentFormView
from repairs.forms.jobs import JobFilterForm, OpenJobForm
from repairs.models import Bench, Job
from repairs.pages.jobs import open_job_lines, opening_page
from repairs.pages.refused import refusal_notice
from repairs.pages.sheet import sheet_of
from repairs.pdf import bench_sheet_pdf
from repairs.selectors.decisions import refusal_of
from repairs.selectors.planning import job_state
from repairs.services.jobs import open_job
from repairs.tables import ClosedJobTable
from repairs.views.one_form import OneFormView
from repairs.views.working import job_or_404

PER_PAGE = 25


class JobListView(StaffView):
    """Open jobs in order with the next step of each; closed ones as a table."""

    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest) -> HttpResponseBase:
        form = JobFilterForm(request.GET or {"state": "open"}, benches=Bench.objects.visible_to(request.user))
        rows = form.narrow(Job.objects.visible_to(request.user))
        context: dict[str, Any] = {
            "form": form,
            "may_change_bench": request.user.has_perm("repairs.change_bench"),
            "may_work": request.user.has_perm("repairs.do_step"),
        }
        if form.shows_closed:
            closed = rows.filter(closed_at__isnull=False).for_table().select_related("closed_by", "play_test")
            table = ClosedJobTable(closed)
            show_page(table, request, per_page=PER_PAGE)
            schools = list(schools_of(request.user, self.permission_required).values_list("pk", flat=True)[:2])
            if file := self.list_export(table, what="closed jobs", title=gettext("Closed jobs"), schools=schools):
                return file
            context["table"] = table
        else:
            page = Paginator(rows.open().first_due(), PER_PAGE).get_page(request.GET.get("page", "1"))
            context["page"] = open_job_lines(page, now=timezone.now())
        template = "repairs/job_list.html#list" if request.htmx else "repairs/job_list.html"
        return render(request, template, context)


def benches_near(request: StaffRequest, instrument: Instrument) -> QuerySet[Bench]:
    """Benches the user may open jobs at, those of the instrument's own school first."""
    rows = Bench.objects.visible_to(request.user, "repairs.open_job").in_use().near(instrument.school_id)
    return rows.select_related("school")


class OpenJobView(OneFormView, InstrumentFormView):
    """The plan beforehand, and one tap to start."""

    permission_required = "repairs.open_job"
    template_name = "repairs/open_job.html"
    form_class, service, subject = OpenJobForm, staticmethod(open_job), "instrument"

    def form_kwargs(self, row: Instrument) -> dict[str, Any]:
        given = {name: self.request.GET[name] for name in ("bench", "because", "due_on") if self.request.GET.get(name)}
        return {"benches": benches_near(self.request, row), "initial": given}

    def context(self, row: Instrument, form: OpenJobForm) -> dict[str, Any]:
        wanted, benches = form["bench"].value(), list(form.benches)
        bench = next((one for one in benches if one.code == wanted), benches[0] if benches else None)
        refused = refusal_of(row)
        return {
            "page": opening_page(row, bench=bench), "benches": benches, "bench": bench,
            "refused": refusal_notice(refused, reader=self.request.user) if refused else None,
        }  # fmt: skip

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        job = Job.objects.open().filter(instrument=row).first()
        return self.shown(row, self.form(row)) if job is None else redirect("repairs:job", job.pk)

    def message(self, row: Instrument, result: Job) -> str:
        return gettext("%(number)s is on the bench.") % {"number": row.asset_number}

    def next_url(self, row: Instrument, result: Job) -> str:
        return reverse("repairs:job", args=[result.pk])


class SheetView(StaffView):
    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, "repairs.view_job")
        sheet = sheet_of(job_state(job), home=home_url(request), today=timezone.localdate())
        return pdf_response(
            request,
            lambda: bench_sheet_pdf(sheet),
            name=f"bench-sheet-{job.instrument.asset_number}.pdf",
            failed=gettext("The bench sheet could not be made. The job is unchanged. Please contact support."),
            back=redirect("repairs:job", pk),
        )
