"""Benches and their profiles."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView, row_or_404
from inventory.models import schools_of
from repairs.forms.benches import BenchForm, NewBenchForm
from repairs.models import Bench
from repairs.pages.benches import bench_lines
from repairs.services.benches import bring_back_bench, retire_bench, set_up_bench
from repairs.views.one_form import OneFormView

CHANGE = "repairs.change_bench"


class BenchListView(StaffView):
    permission_required = "repairs.view_bench"

    def get(self, request: StaffRequest) -> HttpResponse:
        may_change = request.user.has_perm(CHANGE)
        add = {"label": gettext("Add a bench"), "url": reverse("repairs:add-bench"), "main": True}
        acts = [add] if may_change else []
        lines = bench_lines(Bench.objects.visible_to(request.user))
        return render(request, "repairs/bench_list.html", {"lines": lines, "acts": acts, "may_change": may_change})


class BenchView(OneFormView):
    permission_required = CHANGE
    template_name = "repairs/bench.html"
    form_class = BenchForm
    success_message = _("Saved. Open jobs are planned with it from now on.")

    def row(self, **lookup: Any) -> Bench:
        rows = Bench.objects.visible_to(self.request.user, CHANGE).select_related("school")
        return row_or_404(rows, **lookup)

    def form_kwargs(self, row: Bench) -> dict[str, Any]:
        names = ("name", "rate_amount", "has_torch", "has_chemicals", "tools", "methods")
        return {"initial": {name: getattr(row, name) for name in names}}

    def context(self, row: Bench, form: BenchForm) -> dict[str, Any]:
        return {"bench": row}

    def act(self, row: Bench, form: BenchForm) -> Bench:
        given = form.cleaned_data
        return set_up_bench(code=row.code, school=row.school, actor=self.request.user, at=timezone.now(), **given)

    def next_url(self, row: Bench, result: Bench) -> str:
        return reverse("repairs:benches")


class AddBenchView(BenchView):
    form_class = NewBenchForm
    success_message = _("The bench is set up.")

    def row(self, **lookup: Any) -> Any:
        return None

    def form_kwargs(self, row: Any) -> dict[str, Any]:
        return {"schools": schools_of(self.request.user, CHANGE)}

    def act(self, row: Any, form: BenchForm) -> Bench:
        return set_up_bench(is_new=True, actor=self.request.user, at=timezone.now(), **form.cleaned_data)


class RetireBenchView(OneFormView):
    """Stop working at a bench, with a page that asks first."""

    permission_required = CHANGE
    service, subject = staticmethod(retire_bench), "bench"
    title, button, back = _("Retire this bench"), _("Retire it"), _("Benches")
    lead = _("It is no longer offered for work or stock. Its jobs and its stock history stay, and it can come back.")
    success_message = _("The bench is retired.")

    def row(self, **lookup: Any) -> Bench:
        return row_or_404(Bench.objects.visible_to(self.request.user, CHANGE), **lookup)

    def back_url(self, row: Bench) -> str:
        return reverse("repairs:benches")


class BringBackBenchView(RetireBenchView):
    service = staticmethod(bring_back_bench)
    title, button = _("Bring this bench back"), _("Bring it back")
    lead = _("It is offered again for work and stock, with what it kept.")
    success_message = _("The bench is back.")
