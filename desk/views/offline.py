"""What a phone carries for when there is no signal."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from core.views import StaffRequest, StaffView
from desk.pages.offline import offline_page


class OfflineView(StaffView):
    """The register and the open work; static/js/offline.js keeps this page and the pages that it names."""

    permission_required = "desk.scan"

    def get(self, request: StaffRequest) -> HttpResponse:
        return render(request, "desk/offline.html", {"page": offline_page(request.user, today=timezone.localdate())})
