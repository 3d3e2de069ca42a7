"""The season plan, on screen and on paper."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, pdf_response
from desk.forms import SeasonPlanForm
from desk.pages.season_plan import season_page
from desk.pdf import season_plan_pdf
from desk.rules.season_plan import Goal, more_of, plan_season
from desk.selectors.season_plan import Terms, season_of
from inventory.models import schools_of
from repairs.models import Bench

PERMISSION = "desk.plan_season"
SECONDS, SECONDS_OF_MORE = 4.0, 1.0  # for each goal of the plan, and of each step of what more would fill
TOLERATED = 0.0005
MOST_FOR_MORE = 600  # instruments up to which it is also said what more would fill
ASKED = "goal"  # in the address once the form was sent


def bound_form(request: StaffRequest) -> SeasonPlanForm:
    schools = schools_of(request.user, PERMISSION).order_by("name")
    benches = Bench.objects.visible_to(request.user, PERMISSION).in_use().order_by("name", "pk")
    initial = {"school": request.GET.get("school"), "goal": Goal.PRIORITY}
    return SeasonPlanForm(
        request.GET if ASKED in request.GET else None, schools=schools, benches=benches, initial=initial
    )


def page_of(request: StaffRequest, form: SeasonPlanForm) -> dict[str, Any]:
    """Return the plan of a valid form as the page and the paper show it."""
    now = timezone.now()
    terms = Terms(
        today=timezone.localdate(now),
        needed_by=form.cleaned_data["needed_by"],
        budgets=form.budgets,
        goal=Goal(form.cleaned_data["goal"]),
    )
    chosen = form.cleaned_data.get("school")
    schools = [chosen] if chosen else list(schools_of(request.user, PERMISSION).order_by("name"))
    found = season_of(schools, terms)
    plan = plan_season(found.season, seconds=SECONDS, tolerated=TOLERATED)
    is_small = len(found.season.candidates) <= MOST_FOR_MORE
    more = list(more_of(found.season, plan, seconds=SECONDS_OF_MORE)) if is_small else []
    return season_page(found, plan, more=more, made_at=now, needed_by=terms.needed_by)


class SeasonPlanView(StaffView):
    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form = bound_form(request)
        page = page_of(request, form) if form.is_valid() else None
        context = {"form": form, "page": page, "query": request.GET.urlencode()}
        return render(request, "desk/season_plan.html", context, status=422 if form.errors else 200)


class SeasonPlanPdfView(StaffView):
    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form = bound_form(request)
        if not form.is_valid():
            return redirect("desk:season-plan")
        return pdf_response(
            request,
            lambda: season_plan_pdf(page_of(request, form)),
            name="season-plan.pdf",
            failed=gettext("The PDF could not be made. Plan fewer schools, or use this page."),
            back=redirect("desk:season-plan"),
        )
