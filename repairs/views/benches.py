"""Benches and their profiles."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, row_or_404
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import schools_of
from repairs.forms import BenchForm, NewBenchForm
from repairs.models import Bench
from repairs.pages.benches import bench_lines, starter_tools
from repairs.services.benches import set_up_bench

CHANGE = "repairs.change_bench"
RATE = "bench_rate_amount"


class BenchListView(StaffView):
    permission_required = "repairs.view_bench"

    def get(self, request: StaffRequest) -> HttpResponse:
        lines = bench_lines(Bench.objects.visible_to(request.user))
        return render(request, "repairs/bench_list.html", {"lines": lines, "may_change": request.user.has_perm(CHANGE)})


class BenchView(StaffView):
    permission_required = CHANGE

    def bench(self, request: StaffRequest, code: str) -> Bench:
        rows = Bench.objects.visible_to(request.user, CHANGE).select_related("school")
        return row_or_404(rows, code=code)

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        bench = self.bench(request, code)
        names = ("name", "rate_amount", "has_torch", "has_chemicals", "tools", "methods")
        form = BenchForm(initial={name: getattr(bench, name) for name in names})
        return render(request, "repairs/bench.html", {"bench": bench, "form": form})

    def post(self, request: StaffRequest, code: str) -> HttpResponse:
        bench = self.bench(request, code)
        form = BenchForm(request.POST)
        if form.is_valid():
            try:
                set_up_bench(
                    code=bench.code, school=bench.school, actor=request.user, at=timezone.now(), **form.cleaned_data
                )
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(request, gettext("Saved. Open jobs are planned with it from now on."))
                return redirect("repairs:benches")
        return render(request, "repairs/bench.html", {"bench": bench, "form": form}, status=422)


class AddBenchView(StaffView):
    permission_required = CHANGE

    def form(self, request: StaffRequest, data: Any = None) -> NewBenchForm:
        initial = {"tools": starter_tools(), "rate_amount": catalog().setting_notes[RATE].value}
        form = NewBenchForm(data, schools=schools_of(request.user, CHANGE), initial=initial)
        form.fields["rate_amount"].help_text = catalog().setting_notes[RATE].told
        return form

    def get(self, request: StaffRequest) -> HttpResponse:
        return render(request, "repairs/bench.html", {"form": self.form(request)})

    def post(self, request: StaffRequest) -> HttpResponse:
        form = self.form(request, request.POST)
        if form.is_valid() and Bench.objects.filter(code=form.cleaned_data["code"]).exists():
            form.add_error("code", gettext("Another bench already has this short name."))
        if form.is_valid():
            try:
                set_up_bench(actor=request.user, at=timezone.now(), **form.cleaned_data)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(request, gettext("The bench is set up."))
                return redirect("repairs:benches")
        return render(request, "repairs/bench.html", {"form": form}, status=422)
