"""What the benches have learned, and the bench review."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from core.views import StaffRequest, StaffView
from inventory.views.loading_totals import shows_progress
from repairs.forms.season import SeasonForm
from repairs.pages.learning import HOW, learning_page
from repairs.selectors.season import season_of


class LearningView(StaffView):
    """Odds of each way, minutes of each method, promises kept: district-wide, naming no school."""

    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest) -> HttpResponse:
        return render(request, "repairs/learning.html", {"page": learning_page(), "how": HOW})


class SeasonView(StaffView):
    permission_required = "repairs.view_job"

    @shows_progress
    def get(self, request: StaffRequest) -> HttpResponse:
        form = SeasonForm(request.GET or None)
        page = season_of(request.user, now=timezone.now(), days=form.days)
        return render(request, "repairs/season.html", {"page": page, "form": form, "how": HOW})
