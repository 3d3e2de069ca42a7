"""The one search box: instruments, students, loans and jobs. What is typed may be a name, so no address holds it."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from core.views import SearchedView, StaffRequest
from desk.pages.guide import found_in_guide
from desk.selectors.finding import find


class SearchView(SearchedView):
    """The box, and what it found; a number, serial or tag typed as a whole leads straight to its instrument."""

    permission_required = "desk.search"

    def get(self, request: StaffRequest) -> HttpResponse:
        query = self.query()
        words = str(query.get("q", "")) if query else ""
        if not words:
            return render(request, "desk/search.html", {"words": ""})
        found = find(request.user, words)
        if found.exact is not None:
            return redirect("desk:instrument", found.exact.asset_number)
        context = {
            "words": words,
            "found": found,
            "guide": found_in_guide(words),
            "key": request.GET.get("search", ""),
            "today": timezone.localdate(),
        }
        return render(request, "desk/search.html", context)
