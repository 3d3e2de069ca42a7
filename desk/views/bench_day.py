"""The day plan of the bench, on screen and on paper."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, pdf_response
from desk.forms.days import BenchDayForm
from desk.pages.bench_day import bench_day
from desk.pdf import bench_day_pdf
from desk.selectors.bench_day import planned_day
from repairs.models import Bench

QUARTER = 15


def next_quarter(now: datetime) -> time:
    """The next full quarter of an hour, to start the day at."""
    local = timezone.localtime(now)
    return (local + timedelta(minutes=-local.minute % QUARTER)).time().replace(second=0, microsecond=0)


def bound_form(request: StaffRequest, *, now: datetime) -> BenchDayForm:
    """Bound to what the address says; a day that says no start, as after a step, is shown with the start it has."""
    benches, start, given = Bench.objects.visible_to(request.user).in_use(), next_quarter(now), request.GET.copy()
    if given:
        given["start"] = given.get("start") or f"{start:%H:%M}"
    return BenchDayForm(given or None, benches=benches, start=start)


def day_of(request: StaffRequest, form: BenchDayForm, *, now: datetime) -> dict[str, Any]:
    start = timezone.make_aware(datetime.combine(timezone.localtime(now).date(), form.start_time))
    day = planned_day(request.user, bench=form.chosen_bench, starts_at=start, hours=form.hours_long)
    return bench_day(day, is_whole="all" in request.GET)


class BenchDayView(StaffView):
    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest) -> HttpResponse:
        now = timezone.now()
        form = bound_form(request, now=now)
        day = day_of(request, form, now=now)
        context = {"day": day, "form": form, "query": form.query, "may_work": request.user.has_perm("repairs.do_step")}
        return render(request, "desk/bench_day.html", context, status=422 if form.errors else 200)


class BenchDayPdfView(StaffView):
    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest) -> HttpResponse:
        now = timezone.now()
        form = bound_form(request, now=now)
        failed = gettext("The PDF could not be made. Plan fewer hours, or use the list on this page.")
        return pdf_response(
            request,
            lambda: bench_day_pdf(day_of(request, form, now=now)),
            name="bench-day.pdf",
            failed=failed,
            back=redirect("desk:bench-day"),
        )
