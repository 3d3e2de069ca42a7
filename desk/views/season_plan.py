"""The season plan, on screen and on paper."""

from __future__ import annotations

from time import monotonic
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from core.exceptions import RefusedError
from core.views import StaffRequest, StaffView
from desk.forms.season_plan import SeasonJobsForm, SeasonPlanForm
from desk.pages.season_plan import changed_since, season_page
from desk.pdf import purchase_request_pdf, season_plan_pdf
from desk.rules.season_plan import FRONTIER_HOURS, FRONTIER_MONEY, Goal, more_of, plan_season
from desk.selectors.season_plan import Terms, season_of
from desk.services.season_plan import open_planned_jobs
from inventory.models import Instrument, schools_of
from repairs.models import Bench

PERMISSION, OPEN = "desk.plan_season", "desk.begin_season"
SECONDS, SECONDS_OF_MORE = 4.0, 1.0  # for each goal of the plan, and of each step of what more would fill
PLAN_WITHIN, PAGE_WITHIN = 15.0, 20.0  # seconds of one request after which no search begins: of the plan, of all
TOLERATED = 0.0005
MOST_FOR_MORE = 600  # instruments up to which it is also said what more would fill
KEPT = "season_plan"  # in the session
ASKED = "goal"  # in the address once the form was sent


def bound_form(request: StaffRequest) -> SeasonPlanForm:
    schools = schools_of(request.user, PERMISSION).order_by("name")
    benches = Bench.objects.visible_to(request.user, PERMISSION).in_use().order_by("name", "pk")
    initial = {"school": request.GET.get("school"), "goal": Goal.PRIORITY}
    return SeasonPlanForm(
        request.GET if ASKED in request.GET else None, schools=schools, benches=benches, initial=initial
    )


def page_of(request: StaffRequest, form: SeasonPlanForm) -> dict[str, Any]:
    """Return the plan of a valid form as the page and the paper show it, as good as the time of a request allows."""
    now, begun = timezone.now(), monotonic()
    terms = Terms(
        today=timezone.localdate(now),
        needed_by=form.cleaned_data["needed_by"],
        budgets=form.budgets,
        goal=Goal(form.cleaned_data["goal"]),
    )
    chosen = form.cleaned_data.get("school")
    schools = [chosen] if chosen else list(schools_of(request.user, PERMISSION).order_by("name"))
    found = season_of(schools, terms)
    plan = plan_season(
        found.season, seconds=SECONDS, left=lambda: begun + PLAN_WITHIN - monotonic(), tolerated=TOLERATED
    )
    is_small = len(found.season.candidates) <= MOST_FOR_MORE
    rest = more_of(
        found.season,
        plan,
        money=FRONTIER_MONEY,
        hours=FRONTIER_HOURS,
        seconds=SECONDS_OF_MORE,
        left=lambda: begun + PAGE_WITHIN - monotonic(),
    )
    more = list(rest) if is_small else []
    return season_page(found, plan, more=more, made_at=now, needed_by=terms.needed_by)


def keys_of(request: StaffRequest, form: SeasonPlanForm) -> list[int]:
    chosen = form.cleaned_data.get("school")
    return [chosen.pk] if chosen else list(schools_of(request.user, PERMISSION).values_list("pk", flat=True)[:2])


class SeasonPlanView(StaffView):
    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form = bound_form(request)
        page = page_of(request, form) if form.is_valid() else None
        jobs = None
        if page and page["to_begin"] and request.user.has_perm(OPEN):
            jobs = SeasonJobsForm(initial={"numbers": page["to_begin"], "due_on": page["needed_by"]})
        context = {
            "form": form,
            "page": page,
            "query": request.GET.urlencode(),
            "jobs": jobs,
            "before": self.plan_before(page) if page else None,
        }
        return render(request, "desk/season_plan.html", context, status=422 if form.errors else 200)

    def plan_before(self, page: dict[str, Any]) -> dict[str, Any] | None:
        """Keep this plan for the session, and return what changed since another one was made of the same schools."""
        asked, session = self.request.GET.urlencode(), self.request.session
        before = session.get(KEPT)
        if before and before["asked"] == asked:
            before = before["before"]  # the page is loaded again
        mine = {"asked": asked} | {name: page[name] for name in ("schools", "seated", "cost", "acts")}
        session[KEPT] = mine | {"before": {name: before[name] for name in mine} if before else None}
        return changed_since(before, page) if before and before["schools"] == page["schools"] else None


class PurchaseRequestView(StaffView):
    """What the plan buys, as a paper to hand in."""

    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form = bound_form(request)
        plan = redirect(f"{reverse('desk:season-plan')}?{request.GET.urlencode()}")
        page = page_of(request, form) if form.is_valid() else None
        if page is None or not page["bought"]:
            messages.info(request, gettext("This plan buys nothing."))
            return plan
        return self.export_pdf(
            lambda: purchase_request_pdf(page, asked_by=request.user.name),
            what="purchase request",
            schools=keys_of(request, form),
            name="purchase-request.pdf",
            failed=gettext("The PDF could not be made. Choose fewer schools, or use this page."),
            back=plan,
        )


class SeasonJobsView(StaffView):
    """Opens the jobs of the repairs that can begin now."""

    permission_required = OPEN

    def post(self, request: StaffRequest) -> HttpResponse:
        form = SeasonJobsForm(request.POST)
        plan = redirect(f"{reverse('desk:season-plan')}?{request.GET.urlencode()}")
        if not form.is_valid():
            messages.error(request, gettext("No jobs were opened. Make the plan again."))
            return plan
        numbers = form.cleaned_data["numbers"]
        rows = list(Instrument.objects.visible_to(request.user, OPEN).filter(asset_number__in=numbers))
        told = {"due_on": form.cleaned_data["due_on"], "nonce": form.cleaned_data["nonce"]}
        try:
            open_planned_jobs(instruments=rows, actor=request.user, at=timezone.now(), **told)
        except RefusedError as error:
            messages.error(request, str(error))
            return plan
        words = ngettext("Opened %(count)d job.", "Opened %(count)d jobs.", len(rows))
        messages.success(request, words % {"count": len(rows)})
        return redirect("repairs:jobs")


class SeasonPlanPdfView(StaffView):
    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form = bound_form(request)
        if not form.is_valid():
            return redirect("desk:season-plan")
        return self.export_pdf(
            lambda: season_plan_pdf(page_of(request, form)),
            what="season plan",
            schools=keys_of(request, form),
            name="season-plan.pdf",
            failed=gettext("The PDF could not be made. Choose fewer schools, or use this page."),
            back=redirect("desk:season-plan"),
        )
