"""Work in progress: how far what one began is, what came of it, and the line that says so on any page."""

from __future__ import annotations

from typing import Any

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django_htmx.http import HttpResponseClientRedirect

from core.long_work import IN_SESSION, retry_work
from core.models import LongWork, LongWorkQuerySet, User
from core.services.long_work import State, fail_stalled_work, may_open, state_of, unclaimed
from core.views.base import StaffRequest, row_or_404
from core.views.own import OwnView

SHOWN = 20


def lines_of(rows: LongWorkQuerySet, user: User) -> list[dict[str, Any]]:
    """How each stands, the latest first; their ends count as said."""
    now = timezone.now()
    fail_stalled_work(rows, at=now)
    shown = list(rows.order_by("-queued_at")[:SHOWN])
    alone = unclaimed(shown, at=now)
    lines = [line_of(row, user) | {"is_unclaimed": row.pk in alone} for row in shown]
    ended = [line["pk"] for line in lines if not line["is_open"]]
    LongWork.objects.filter(pk__in=ended, seen_at=None).update(seen_at=now)
    return lines


def line_of(row: LongWork, user: User) -> dict[str, Any]:
    state = state_of(row)
    is_file = bool(row.file) and may_open(row=row, user=user)
    return {
        "pk": row.pk,
        "title": row.title,
        "state": state,
        "is_open": state in {State.WAITS, State.RUNS},
        "phase": row.phase,
        "done": row.done,
        "total": row.total,
        "queued_at": row.queued_at,
        "message": row.message,
        "url": reverse("core:work-file", args=[row.pk]) if is_file else row.result_url,
        "is_file": is_file,
        "url_label": gettext("Download") if is_file else gettext("Open"),
    }


class WorkView(OwnView):
    """All that one began lately, or one of it; it asks for itself until all is done."""

    http_method_names = ["get", "head"]

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        rows = LongWork.objects.visible_to(request.user)
        if lookup:
            rows = rows.filter(pk=row_or_404(rows, **lookup).pk)
        lines = lines_of(rows, request.user)
        is_going_on = any(line["is_open"] for line in lines)
        if not is_going_on and not lookup:
            request.session.pop(IN_SESSION, None)
        if lookup and request.htmx and lines[0]["state"] is State.DONE and not lines[0]["is_file"] and lines[0]["url"]:
            return HttpResponseClientRedirect(lines[0]["url"])
        context = {"lines": lines, "is_going_on": is_going_on, "is_one": bool(lookup)}
        return render(request, "core/work.html" + ("#works" if request.htmx else ""), context)


class WorkLineView(OwnView):
    """What stands in the head of any page: how far it is, and once that it is done."""

    http_method_names = ["get", "head"]

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        lines = lines_of(LongWork.objects.visible_to(request.user).filter(seen_at=None), request.user)
        is_going_on = any(line["is_open"] for line in lines)
        if not is_going_on:
            request.session.pop(IN_SESSION, None)
        return render(request, "components/work_line.html", {"lines": lines, "asks": is_going_on})


class WorkFileView(OwnView):
    """A file that came of it, for whoever began it, while their roles reach as far as its rows."""

    http_method_names = ["get", "head"]

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        row = row_or_404(LongWork.objects.visible_to(request.user).exclude(file=""), **lookup)
        if not may_open(row=row, user=request.user) or not default_storage.exists(row.file):
            raise Http404("no longer theirs, or past its time")
        headers = {"X-Content-Type-Options": "nosniff"}
        return FileResponse(default_storage.open(row.file), as_attachment=True, filename=row.file_name, headers=headers)


class WorkAgainView(OwnView):
    """Begin again what stopped or was refused."""

    http_method_names = ["post"]

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = row_or_404(LongWork.objects.visible_to(request.user).filter(is_failed=True), **lookup)
        if not may_open(row=row, user=request.user):
            raise Http404("no longer theirs")
        again = retry_work(row, at=timezone.now())
        request.session[IN_SESSION] = True
        return redirect("core:work-one", again.pk)
