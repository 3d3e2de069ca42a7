"""A school's days for the calendar program of one of its staff, by an address that only they know."""

from __future__ import annotations

import hashlib
from typing import Any

from django import forms
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.decorators import method_decorator
from django.utils.http import quote_etag
from django.utils.translation import gettext as _
from django.views import View
from django.views.decorators.cache import cache_control

from core.forms import set_queryset
from core.icalendar import calendar_text
from core.responses import home_url
from core.views import OwnView, keep_to_show, row_or_404, show_once
from desk.forms.days import CalendarForm
from desk.selectors.calendar import entries_of
from inventory.access import has_perm_at_school
from inventory.models import CalendarLink, schools_of
from inventory.services.calendars import (
    AN_HOUR_S,
    calendar_link_of,
    make_calendar_link,
    may_read_calendar,
    revoke_calendar_link,
)

SHOWN = "calendar_address"


class CalendarsView(OwnView):
    """Make an address for a school's calendar, see which there are; the address itself is shown once."""

    template_name = "desk/calendars.html"

    def form(self, row: None, data: Any = None) -> CalendarForm:
        form = CalendarForm(data)
        set_queryset(form, "school", schools_of(self.request.user))
        return form

    def context(self, row: None, form: CalendarForm) -> dict[str, Any]:
        token = show_once(self.request, SHOWN) if self.request.method == "GET" else None
        path = reverse("desk:calendar", args=[token]) if token else ""
        return {
            "address": f"{home_url(self.request)}{path}" if path else "",
            "links": CalendarLink.objects.live().filter(user=self.request.user).select_related("school"),
        }

    def save(self, row: None, form: CalendarForm) -> str:
        token = make_calendar_link(school=form.cleaned_data["school"], **self.actor_and_time())
        keep_to_show(self.request, SHOWN, token)
        return reverse("desk:calendars")


class RevokeCalendarView(OwnView):
    http_method_names = ["post", "options"]

    def row(self, **lookup: Any) -> CalendarLink:
        return row_or_404(CalendarLink.objects.filter(user=self.request.user), pk=lookup["pk"])

    def save(self, row: CalendarLink, form: forms.BaseForm) -> str:
        revoke_calendar_link(link=row, **self.actor_and_time())
        return self.done(_("This address no longer works."), "desk:calendars")


@method_decorator([login_not_required, cache_control(private=True, no_cache=True)], name="dispatch")
class CalendarView(View):
    """The calendar itself: due dates and promises of bench and shop by asset number, nobody's name."""

    http_method_names = ["get", "head", "options"]

    def get(self, request: HttpRequest, token: str) -> HttpResponseBase:
        at, link = timezone.now(), calendar_link_of(token)
        if link is None or not has_perm_at_school(link.user, "inventory.view_instrument", link.school_id):
            raise Http404("no such calendar")
        if not may_read_calendar(link):
            response = HttpResponse(
                _("Read too many times. Try again in an hour."), status=429, content_type="text/plain"
            )
            response["Retry-After"] = str(AN_HOUR_S)
            return response
        entries = entries_of(link, home=home_url(request), today=timezone.localdate(at))
        text = calendar_text(name=_("%(school)s instruments") % {"school": link.school}, entries=entries).encode()
        tag = quote_etag(hashlib.sha256(text).hexdigest()[:32])
        response = HttpResponse(text, content_type="text/calendar; charset=utf-8", headers={"ETag": tag})
        response["X-Robots-Tag"] = "noindex, nofollow"
        return get_conditional_response(request, etag=tag, response=response) or response
