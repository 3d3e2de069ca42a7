"""The first page of a new installation, and the list of what comes first."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext
from django.views import View
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from core.views import StaffRequest, StaffView
from core.views.entering import finish
from desk.pages.opening import CLOSED, step_lines
from inventory.exceptions import RefusedError
from inventory.forms.opening import OpeningForm
from inventory.models import District
from inventory.selectors.opening import Standing, first_steps, link_of, standing_of_link
from inventory.services.opening import ClosedLinkError, open_district, put_first_steps_aside

SETTINGS = "inventory.manage_settings"


@method_decorator([login_not_required, never_cache, sensitive_post_parameters("password", "again")], name="dispatch")
class BeginView(View):
    """Opens by the link that was printed where the server was started, once, and logs the administrator in."""

    def get(self, request: HttpRequest, token: str) -> HttpResponse:
        standing = standing_of_link(link_of(token), at=timezone.now())
        if standing is not Standing.OPEN:
            return closed(request, standing)
        return shown(request, OpeningForm(district=District.objects.first()))

    def post(self, request: HttpRequest, token: str) -> HttpResponse:
        standing = standing_of_link(link_of(token), at=timezone.now())
        if standing is not Standing.OPEN:
            return closed(request, standing)
        form = OpeningForm(request.POST, district=District.objects.first())
        if form.is_valid():
            try:
                person = open_district(token=token, opening=form.opening(), at=timezone.now())
            except ClosedLinkError as error:  # somebody else sent theirs meanwhile
                return closed(request, error.standing)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                answer = finish(request, person, onward=reverse("desk:today"))
                messages.success(request, gettext("Hornbook is set up, and you are logged in. This is next."))
                return answer
        return shown(request, form, status=422)


def shown(request: HttpRequest, form: OpeningForm, *, status: int = 200) -> HttpResponse:
    return render(request, "desk/begin.html", {"form": form}, status=status)


def closed(request: HttpRequest, standing: Standing) -> HttpResponse:
    """Say why the link opens nothing; whoever has just used it and comes back is led on."""
    if request.user.is_authenticated:
        return redirect("desk:today")
    title, text = CLOSED[standing]
    status = 404 if standing is Standing.UNKNOWN else 410
    may_log_in = standing in {Standing.USED, Standing.VOID}
    shown = {"title": title, "text": text, "may_log_in": may_log_in}
    return render(request, "desk/begin_closed.html", shown, status=status)


class FirstStepsView(StaffView):
    """What comes first in a new place; it can be put aside, and taken up again."""

    permission_required = SETTINGS

    def get(self, request: StaffRequest) -> HttpResponse:
        steps = first_steps(at=timezone.now())
        return render(request, "desk/first_steps.html", {"first_steps": step_lines(steps) if steps else None})

    def post(self, request: StaffRequest) -> HttpResponse:
        is_aside = request.POST.get("aside") == "1"
        put_first_steps_aside(is_aside=is_aside, actor=request.user, at=timezone.now())
        return HttpResponseRedirect(".") if is_aside else redirect("desk:today")
