"""Pages that sum up a whole fleet: where that takes long, how far it is, and the page once it is done."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from django.http import HttpResponse
from django.shortcuts import render

from core.views import StaffRequest
from inventory.selectors.school_sums import UnfinishedError, totals_within

SECONDS = 1.2  # of summing before the page says how far it is
PLACE = "loading-totals"  # id of what is swapped

P = ParamSpec("P")
View = TypeVar("View")


def shows_progress(
    get: Callable[Concatenate[View, StaffRequest, P], HttpResponse],
) -> Callable[Concatenate[View, StaffRequest, P], HttpResponse]:
    """Wrap a view's ``get``: a page that says how far the sums are asks for itself until they are whole."""

    @wraps(get)
    def answer(self: View, request: StaffRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        is_asking = request.htmx.target == PLACE
        try:
            with totals_within(SECONDS):
                page = get(self, request, *args, **kwargs)
        except UnfinishedError as so_far:
            if request.htmx and not is_asking:  # it wanted a piece of a page
                return HttpResponse(headers={"HX-Redirect": request.get_full_path()})
            context: dict[str, Any] = {
                "done": so_far.done,
                "total": so_far.total,
                "query": list(request.GET.lists()),
                "address": request.path,
            }
            template = "inventory/loading_totals.html" + ("#progress" if is_asking else "")
            return render(request, template, context)
        return HttpResponse(headers={"HX-Refresh": "true"}) if is_asking else page

    return answer
