"""Archives of years: made by the worker, taken from here."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_htmx.http import HttpResponseClientRefresh

from core.archives import public_text, read_key
from core.exceptions import ArchiveError
from core.models import Event, LongWork
from core.services.long_work import fail_stalled_work
from core.views import StaffRequest, StaffView, row_or_404, start_work
from desk.forms.value import FiscalYearForm
from desk.pages.archives import archive_lines
from desk.pages.value import years_offered
from desk.selectors.archives import MADE, archives_made
from desk.selectors.event_log import VIEW, is_whole_district
from desk.selectors.value import fiscal_year_begins
from desk.tasks import ARCHIVE, latest_archive_work
from inventory.catalog.load import catalog
from inventory.rules.depreciation import fiscal_year

WHOLE = gettext_lazy("An archive holds the whole district. Your role is for one school.")


def latest_work() -> LongWork | None:
    fail_stalled_work(LongWork.objects.filter(function=ARCHIVE), at=timezone.now())
    return latest_archive_work()


class ArchivesView(StaffView):
    """Which archives there are, the key they are signed with, and a form that asks for another."""

    permission_required = VIEW

    def form(self, data: Any) -> FiscalYearForm:
        """Offer the years that are over."""
        return FiscalYearForm(data, years=years_offered(timezone.localdate(), trade=catalog())[1:])

    def get(self, request: StaffRequest) -> HttpResponse:
        is_all, work = is_whole_district(request.user), latest_work()
        is_going_on = work is not None and work.finished_at is None
        if request.htmx and not is_going_on:  # it asked how far that is
            return HttpResponseClientRefresh()
        try:
            public_key, trouble = public_text(read_key(settings.ARCHIVE_KEY_FILE).public_key()), ""
        except ArchiveError as error:
            public_key, trouble = "", str(error)
        folder = settings.ARCHIVES_DIR
        there = {path.name for path in folder.glob("*.zip")} if folder.is_dir() else set()
        context = {
            "is_all": is_all,
            "form": self.form(None),
            "public_key": public_key,
            "check_command": f'manage.py verify --archive FILE --public-key "{public_key}"',
            "trouble": trouble,
            "making": work if is_going_on else None,
            "refused": work.message if work and work.is_failed else "",
            "archives": archive_lines(archives_made(), there=there) if is_all else [],
        }
        return render(request, "desk/archives.html", context)

    def post(self, request: StaffRequest) -> HttpResponse:
        if not is_whole_district(request.user):
            messages.error(request, WHOLE)
        elif (work := latest_work()) and work.finished_at is None:
            messages.info(request, _("An archive is already being made."))
        else:
            first, last = fiscal_year(self.form(request.POST.dict()).first, begins=fiscal_year_begins(catalog()))
            year = {"first": first.isoformat(), "last": last.isoformat()}
            return redirect(start_work(request, function=ARCHIVE, title=_("Archives"), permission=VIEW, arguments=year))
        return redirect("desk:archives")


class ArchiveView(StaffView):
    """One archive as it was made."""

    permission_required = VIEW

    def get(self, request: StaffRequest, number: int) -> HttpResponseBase:
        if not is_whole_district(request.user):
            messages.error(request, WHOLE)
            return redirect("desk:archives")
        event = row_or_404(Event.objects.filter(act=MADE), number=number)
        path = settings.ARCHIVES_DIR / event.after["file"]
        if not path.is_file():
            raise Http404("its file is no longer here")
        self.note_export("archive of a year", form="zip", rows=event.after["events"], schools=())
        headers = {"X-Content-Type-Options": "nosniff"}
        return FileResponse(path.open("rb"), as_attachment=True, filename=path.name, headers=headers)
