"""The event log: its entries by person, act, day and instrument, and the same as a file."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from core.events import check_links, head_of_log
from core.keys import key_of
from core.tables import FILE_FORMS
from core.views import StaffRequest, StaffView
from desk.forms.event_log import LogFilterForm
from desk.pages.event_log import HEADER, ON_PAPER, act_choices, log_lines, log_rows
from desk.selectors.event_log import PER_PAGE, VIEW, acts_in_log, all_entries, entries, people_in_log
from inventory.models import schools_of

SECONDS = 2.0  # of checking before the page answers
BROKEN_SHOWN = 20
MOST_IN_BOOK = 50_000  # entries of a workbook, which is made before it is sent; a CSV file is sent as it is made


class LogBase(StaffView, is_base=True):
    """Pages about the log of the schools that the user sees."""

    def names(self) -> dict[int, str]:
        return dict(schools_of(self.request.user, VIEW).values_list("pk", "name"))

    def form(self) -> LogFilterForm:
        query = self.request.GET.dict()
        return LogFilterForm(query, people=people_in_log(self.request.user), acts=act_choices(acts_in_log()))


class LogView(LogBase):
    """A page of entries, the newest first; htmx gets the list alone."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        form, before = self.form(), key_of(request.GET.get("before", ""))
        rows, names = form.narrowed().rows(request.user), self.names()
        some = entries(rows, user=request.user, names=names, before=before, most=PER_PAGE)
        query: Any = request.GET.copy()
        query.pop("before", None)
        context = {
            "form": form,
            "first": [form[name] for name in ("number", "since", "until", "show")],
            "more": [form["person"], form["act"]],
            "lines": log_lines(some),
            "older": some.events[-1].number if some.has_more else None,
            "is_first": before is None,
            "has_schools": len(names) > 1,
            "query": query.urlencode(),
        }
        return render(request, "desk/log.html" + ("#list" if request.htmx else ""), context)


class LogExportView(LogBase):
    """The entries as filtered, as a file."""

    permission_required = VIEW

    def get(self, request: StaffRequest, form: str) -> HttpResponseBase:
        if form not in FILE_FORMS:
            raise Http404("no such file")
        rows, names = self.form().narrowed().rows(request.user), self.names()
        count, back = rows.count(), f"{reverse('desk:log')}?{request.GET.urlencode()}"
        if form == "xlsx" and count > MOST_IN_BOOK:
            words = _("%(count)d entries are too many for a workbook. Narrow the list, or take the CSV file.")
            messages.warning(request, words % {"count": count})
            return redirect(back)
        last = head_of_log().count  # what comes now is not among them
        return self.list_file(
            name=f"event-log-{timezone.localdate()}.{form}",
            what="event log",
            title=_("Event log"),
            header=HEADER,
            rows=log_rows(all_entries(rows.filter(number__lte=last), user=request.user, names=names)),
            count=count,
            schools=list(names),
            back=back,
            on_paper=ON_PAPER,
        )


class LogCheckView(StaffView):
    """Check the chain of hashes, a stretch at a time, as the nightly check does; htmx asks for the next by itself."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponse:
        context: dict[str, Any] = {"head": head_of_log(), "at": timezone.now()}
        after = key_of(request.GET.get("after", ""))
        if after is not None:
            checked = check_links(after=after, seconds=SECONDS)
            since = key_of(request.GET.get("since", "")) or 0  # the entry after which no break was found
            context |= {
                "checked": checked,
                "first": since + 1,
                "since": checked.last if checked.broken else since,
                "broken": checked.broken[:BROKEN_SHOWN],
                "goes_on": not checked.is_end and not checked.broken,
            }
        return render(request, "desk/log_check.html" + ("#result" if request.htmx else ""), context)
