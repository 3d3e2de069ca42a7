"""The list of jobs, taking an instrument to the bench, and the bench sheet on paper."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Case, IntegerField, QuerySet, Value, When
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django_tables2 import RequestConfig

from core.pdf import PdfError
from core.responses import file_response, home_url
from core.views import StaffRequest, StaffView
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.views.rows import instrument_for
from repairs.forms import JobFilterForm, OpenJobForm
from repairs.models import Bench, Job
from repairs.pages.jobs import open_job_lines, opening_page
from repairs.pages.sheet import sheet_of
from repairs.pdf import bench_sheet_pdf
from repairs.selectors.planning import job_state
from repairs.services.jobs import open_job
from repairs.tables import ClosedJobTable
from repairs.views.working import job_or_404

PER_PAGE = 25


class JobListView(StaffView):
    """Open jobs in order with the next step of each; closed ones as a table."""

    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest) -> HttpResponse:
        form = JobFilterForm(request.GET or {"state": "open"}, benches=Bench.objects.visible_to(request.user))
        rows = form.narrow(Job.objects.visible_to(request.user).for_table())
        context: dict[str, Any] = {
            "form": form,
            "may_change_bench": request.user.has_perm("repairs.change_bench"),
            "may_work": request.user.has_perm("repairs.do_step"),
        }
        if form.shows_closed:
            closed = rows.filter(closed_at__isnull=False).select_related("closed_by", "play_test")
            table = ClosedJobTable(closed)
            RequestConfig(request, paginate={"per_page": PER_PAGE}).configure(table)
            context["table"] = table
        else:
            jobs = Paginator(rows.open().select_related("clock").first_due(), PER_PAGE)
            context["page"] = open_job_lines(jobs.get_page(request.GET.get("page", "1")), now=timezone.now())
        template = "repairs/job_list.html#list" if request.htmx else "repairs/job_list.html"
        return render(request, template, context)


def benches_near(request: StaffRequest, instrument: Instrument) -> QuerySet[Bench]:
    """Benches the user may open jobs at, those of the instrument's own school first."""
    own = Case(When(school=instrument.school_id, then=Value(0)), default=Value(1), output_field=IntegerField())
    rows = Bench.objects.visible_to(request.user, "repairs.open_job")
    return rows.select_related("school").order_by(own, "name", "pk")


class OpenJobView(StaffView):
    """The plan beforehand, and one tap to start."""

    permission_required = "repairs.open_job"

    def shown(
        self, request: StaffRequest, instrument: Instrument, form: OpenJobForm, *, status: int = 200
    ) -> HttpResponse:
        wanted = form["bench"].value()
        benches = list(form.fields["bench"].queryset)  # type: ignore[attr-defined]  # a ModelChoiceField
        bench = next((one for one in benches if one.code == wanted), benches[0] if benches else None)
        context = {"page": opening_page(instrument, bench=bench), "form": form, "benches": benches, "bench": bench}
        return render(request, "repairs/open_job.html", context, status=status)

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        job = Job.objects.open().filter(instrument=instrument).first()
        if job is not None:
            return redirect("repairs:job", job.pk)
        initial = {name: request.GET[name] for name in ("bench", "because", "due_on") if request.GET.get(name)}
        form = OpenJobForm(initial=initial, benches=benches_near(request, instrument))
        return self.shown(request, instrument, form)

    def post(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        form = OpenJobForm(request.POST, benches=benches_near(request, instrument))
        if form.is_valid():
            try:
                job = open_job(instrument=instrument, actor=request.user, at=timezone.now(), **form.cleaned_data)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                words = gettext("%(number)s is on the bench.")
                messages.success(request, words % {"number": instrument.asset_number})
                return redirect("repairs:job", job.pk)
        return self.shown(request, instrument, form, status=422)


class SheetView(StaffView):
    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, "repairs.view_job")
        sheet = sheet_of(job_state(job), home=home_url(request), today=timezone.localdate())
        try:
            pdf = bench_sheet_pdf(sheet)
        except PdfError:
            messages.error(
                request, gettext("The bench sheet could not be made. The job is unchanged. Please tell support.")
            )
            return redirect("repairs:job", pk)
        return file_response(pdf, name=f"bench-sheet-{job.instrument.asset_number}.pdf")
