"""One entry of the log, an instrument's whole history, and saying that an entry is wrong."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext

from core.models import Event
from core.views import FormView, StaffRequest, StaffView, row_or_404
from desk.access import may_strike
from desk.forms.reports import EnteredInErrorForm
from desk.pages.event_log import correcting, values_changed
from desk.pages.history import entry_page, lines_of
from desk.selectors.event_log import VIEW as VIEW_LOG
from desk.selectors.history import (
    ENTERED_IN_ERROR,
    events_of,
    instrument_of,
    place_of,
    references_in_list,
    references_of,
    strike_of,
)
from desk.services.entered_in_error import call_entered_in_error
from inventory.access import has_perm_at_school
from inventory.models import Disposal, Instrument
from inventory.views.rows import instrument_for

PER_PAGE = 50


def entry_for(request: StaffRequest, number: int, permission: str) -> tuple[Event, Instrument | None]:
    """Return the event and its instrument, where the user has the permission at its school; else 404."""
    event = row_or_404(Event.objects.select_related("actor"), number=number)
    instrument = instrument_of(event)
    if not has_perm_at_school(request.user, permission, place_of(event, instrument)):
        raise Http404("no such event")
    return event, instrument


class LogEntryView(StaffView):
    """What one entry says: who, when, every value from and to, and whether it was entered in error."""

    permission_required = "inventory.view_events"

    def get(self, request: StaffRequest, number: int) -> HttpResponse:
        event, instrument = entry_for(request, number, self.permission_required)
        school, strike = place_of(event, instrument), strike_of(event)
        refs = references_of([event, *([strike] if strike else [])], user=request.user, school=school)
        may = may_strike(request.user, event, school=school) and event.act != ENTERED_IN_ERROR and strike is None
        context = entry_page(event, refs=refs, strike=strike) | {
            "instrument": instrument,
            "may_strike": may,
            "is_disposal": event.subject_type == Disposal._meta.label_lower,
        }
        if has_perm_at_school(request.user, VIEW_LOG, school):
            context["changes"] = values_changed(event, refs)
        return render(request, "desk/log_entry.html", context)


class EnteredInErrorView(FormView):
    """Say that an entry is wrong, and why. It changes no row, and leads to where that is done."""

    permission_required = "desk.strike_own_event"
    template_name = "desk/entered_in_error.html"
    row_name = "event"
    form_class = EnteredInErrorForm

    def row(self, **lookup: Any) -> Event:
        event, self.instrument = entry_for(self.request, lookup["number"], self.permission_required)
        if not may_strike(self.request.user, event, school=place_of(event, self.instrument)):
            raise PermissionDenied
        return event

    def context(self, row: Event, form: Any) -> dict[str, Any]:
        instrument = self.instrument
        school = place_of(row, instrument)
        refs = references_of([row], user=self.request.user, school=school)
        page = entry_page(row, refs=refs, strike=None) | {"instrument": instrument}
        if instrument is not None:
            page["correct"] = correcting(
                row, instrument, may=lambda permission: has_perm_at_school(self.request.user, permission, school)
            )
        return page

    def save(self, row: Event, form: Any) -> str:
        data = form.cleaned_data
        call_entered_in_error(event=row, because=data["because"], nonce=data["nonce"], **self.actor_and_time())
        return self.done(gettext("Marked as entered in error."), "desk:log-entry", row.number)


class HistoryView(StaffView):
    """Everything that was ever entered about an instrument, the newest entry first."""

    permission_required = "inventory.view_events"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        page = Paginator(events_of(instrument), PER_PAGE).get_page(request.GET.get("page"))
        events = list(page.object_list)
        refs = references_in_list(events, user=request.user, school=instrument.school_id)
        context = {"instrument": instrument, "page": page, "history": lines_of(events, refs=refs)}
        return render(request, "desk/history.html", context)
