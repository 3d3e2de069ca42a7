"""The season plan, on screen and on paper, and what is started of it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime
from hashlib import sha256
from time import monotonic
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.exceptions import RefusedError
from core.models import LongWork, User
from core.progress import report_progress
from core.services.long_work import Outcome
from core.views import StaffRequest, StaffView, row_or_404, start_work
from desk.forms.season_plan import ClosePurchaseForm, SeasonPlanForm, StartedForm, StartSeasonForm
from desk.pages.purchases import request_line, request_page
from desk.pages.season_plan import changed_since, season_page
from desk.pages.season_shown import first_of
from desk.pages.season_started import start_words, started_page, stopped_words, waits_words
from desk.pdf import purchase_request_pdf, season_plan_pdf
from desk.rules.season_plan import FRONTIER_HOURS, FRONTIER_MONEY, Goal, more_of, plan_season
from desk.rules.season_plan.model import build_model
from desk.rules.season_plan.solve import Solution, solve
from desk.season_kept import PLAN, found_before, is_due, keep_solution, solution_for
from desk.selectors.season_plan import DistrictSeason, Terms, season_of
from desk.selectors.season_started import started_at
from desk.services.season_plan import start_season
from inventory.catalog.load.language import stored_language
from inventory.models import Instrument, PurchaseRequest, School, Whereabouts, schools_of
from inventory.selectors.standing import standings_of
from inventory.services.purchasing import close_purchase
from loans.forms.filters import schools_in
from repairs.models import Bench, Shop
from repairs.pages.orders import asking, shop_work
from repairs.selectors.budgets import usual_budget
from repairs.selectors.shops import likely_shop

PERMISSION, OPEN, SEND = "desk.plan_season", "desk.begin_season", "repairs.send_out"
SECONDS, SECONDS_OF_MORE = 4.0, 1.0  # for each goal of the plan, and of each step of what more would fill
PLAN_WITHIN, PAGE_WITHIN = 15.0, 20.0  # seconds of one request after which no search begins: of the plan, of all
TOLERATED = 0.0005
SECONDS_LATER, LATER_WITHIN = 40.0, 150.0  # the same where the worker searches; less than it may be silent for
MOST_FOR_MORE = 600  # instruments up to which a request plans, and says what more would fill
MOST_TO_READ = 1200  # instruments of the schools up to which a request reads what could be done with each
KEPT, MOST_KEPT = "season_plans", 8  # in the session: the latest plans, by what was asked
BEFORE = "before"  # in the address: which of them the form stood beside
PER_PAGE, LATEST = 50, 3  # purchase requests on their page, and beside a plan
WHOLE = "all"  # in the address: the list of a long plan that is shown whole
ASKED = "goal"  # in the address once the form was sent


def form_of(user: User, data: QueryDict) -> SeasonPlanForm:
    schools = schools_of(user, PERMISSION).order_by("name")
    benches = Bench.objects.visible_to(user, PERMISSION).in_use().order_by("name", "pk")
    initial = {"school": data.get("school"), "goal": Goal.PRIORITY}
    return SeasonPlanForm(data if ASKED in data else None, schools=schools, benches=benches, initial=initial)


def season_for(user: User, form: SeasonPlanForm, *, now: datetime) -> DistrictSeason:
    """Return the season that a valid form asks about."""
    terms = Terms(
        today=timezone.localdate(now),
        needed_by=form.cleaned_data["needed_by"],
        budgets=form.budgets,
        goal=Goal(form.cleaned_data["goal"]),
    )
    return season_of(schools_asked(user, form), terms)


def schools_asked(user: User, form: SeasonPlanForm) -> list[School]:
    chosen = form.cleaned_data.get("school")
    return [chosen] if chosen else list(schools_of(user, PERMISSION).order_by("name"))


def is_large(found: DistrictSeason) -> bool:
    return len(found.season.candidates) > MOST_FOR_MORE


def is_long_to_read(user: User, schools: Collection[School]) -> bool:
    """Whether a request does not even read the season, which is most of a page's time where nobody searched yet."""
    return Instrument.objects.visible_to(user, PERMISSION).present().filter(school__in=schools).count() > MOST_TO_READ


def page_of(
    found: DistrictSeason, form: SeasonPlanForm, *, now: datetime, solution: Solution | None = None
) -> dict[str, Any]:
    """Return the plan as the page and the paper show it: of what was found before, or as good as a request's time allows."""
    begun = monotonic()
    plan = plan_season(
        found.season, seconds=SECONDS, left=lambda: begun + PLAN_WITHIN - monotonic(), tolerated=TOLERATED,
        solution=solution,
    )  # fmt: skip
    rest = more_of(
        found.season,
        plan,
        money=FRONTIER_MONEY,
        hours=FRONTIER_HOURS,
        seconds=SECONDS_OF_MORE,
        left=lambda: begun + PAGE_WITHIN - monotonic(),
    )
    more = [] if is_large(found) else list(rest)
    return season_page(found, plan, more=more, made_at=now, needed_by=form.cleaned_data["needed_by"])


def asked_of(form: SeasonPlanForm) -> str:
    """The question as an address, of what the form knows alone."""
    asked = QueryDict(mutable=True)
    asked.update({name: form.data.get(name, "") for name in form.fields if form.data.get(name)})
    return asked.urlencode()


def plan_later(work: LongWork, at: datetime) -> Outcome:
    """Search for the plan of a large season, and keep what was found for whoever asked."""
    form = form_of(work.person, QueryDict(work.arguments["asked"]))
    if not form.is_valid():  # a school or bench of it is gone, or the role
        raise RefusedError(" ".join(str(error) for errors in form.errors.values() for error in errors))
    found, begun = season_for(work.person, form, now=at), monotonic()
    report_progress(phase=gettext("Searching for the best plan"))
    solution = solve(
        build_model(found.season), seconds=SECONDS_LATER, left=lambda: begun + LATER_WITHIN - monotonic(),
        tolerated=TOLERATED,
    )  # fmt: skip
    keep_solution(work=work, season=found.season, solution=solution)
    return Outcome(url=f"{reverse('desk:season-plan')}?{work.arguments['address']}")


class SeasonPlanView(StaffView):
    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form, now, page = form_of(request.user, request.GET), timezone.now(), None
        if form.is_valid():
            asked, schools = asked_of(form), schools_asked(request.user, form)
            work = found_before(user=request.user, asked=asked)
            if work is None and is_long_to_read(request.user, schools):
                return self.leave_to_worker(schools, asked)
            found = season_for(request.user, form, now=now)
            solution = solution_for(found.season, work=work) if work else None
            if is_large(found) and solution is None and is_due(work, at=now):
                return self.leave_to_worker(schools, asked)
            page = page_of(found, form, now=now, solution=solution)
        if page:
            for name, permission in (("to_start", OPEN), ("to_send", SEND)):
                may = Instrument.objects.visible_to(request.user, permission).filter(asset_number__in=page[name])
                numbers = set(may.values_list("asset_number", flat=True))
                page[name] = [number for number in page[name] if number in numbers]
        words = start_words(page) if page else {}
        context = {
            "form": form,
            "page": page and first_of(page, whole=request.GET.get(WHOLE, "")),
            "query": request.GET.urlencode(),
            "start": StartSeasonForm.of(page, words=words, today=timezone.localdate()) if page and words else None,
            "start_words": gettext("Start") if len(words) > 1 else "".join(words.values()),
            "mine": self.mine,
            "before": self.plan_before(page) if page else None,
            "filed": self.filed(page) if page else [],
            "acts": [
                {"label": gettext("What is needed"), "url": reverse("loans:need")},
                {"label": gettext("Purchase requests"), "url": reverse("desk:purchase-requests")},
            ],
        }
        return render(request, "desk/season_plan.html", context, status=422 if form.errors else 200)

    def leave_to_worker(self, rows: Collection[School], asked: str) -> HttpResponse:
        address, before = QueryDict(asked, mutable=True), self.request.GET.get(BEFORE, "")
        if before in self.request.session.get(KEPT, {}):
            address[BEFORE] = before
        arguments = {"asked": asked, "address": address.urlencode()}
        schools = [school.pk for school in rows]
        progress = start_work(
            self.request, function=PLAN, title=gettext("Season plan"), permission=PERMISSION, schools=schools,
            arguments=arguments,
        )  # fmt: skip
        return redirect(progress)

    def filed(self, page: dict[str, Any]) -> list[dict[str, Any]]:
        """The latest open requests of the schools that the plan buys for."""
        codes = [one["code"] for one in page["bought"]]
        rows = PurchaseRequest.objects.visible_to(self.request.user).open().filter(school__code__in=codes).for_table()
        return [request_line(row) for row in rows[:LATEST]] if codes else []

    @property
    def mine(self) -> str:
        """The name of this plan in the session: of what was asked, whatever it is compared with and shows."""
        asked = self.request.GET.copy()
        for name in (BEFORE, WHOLE):
            asked.pop(name, None)
        return sha256(asked.urlencode().encode()).hexdigest()[:16]

    def plan_before(self, page: dict[str, Any]) -> dict[str, Any] | None:
        """Keep this plan for the session, and return what changed since the one that its form stood beside."""
        kept = dict(self.request.session.get(KEPT, {}))
        asked = self.request.GET.get(BEFORE, "")
        before = kept.get(asked)
        kept.pop(self.mine, None)
        kept[self.mine] = {name: page[name] for name in ("schools", "seated", "cost", "acts")}
        self.request.session[KEPT] = dict(list(kept.items())[-MOST_KEPT:])
        if before is None or asked == self.mine or before["schools"] != page["schools"]:
            return None
        return changed_since(before, page)


def orders_of(rows: Sequence[Instrument], *, today: date) -> list[tuple[Instrument, dict[str, Any]]]:
    """Return what a shop is asked about each: all of its work, in the district's language, which the shop reads."""
    standings = standings_of(rows)
    usual = {school: usual_budget(school, today=today) for school in {row.school_id for row in rows}}
    with stored_language():
        asked = [(row, asking(row, (), shop_work(row, (), standings[row.pk].findings))) for row in rows]
    other = Shop.objects.filter(is_used=True).first() if rows else None
    shops = {work: likely_shop(work) or other for work in {its.get("work", "") for _, its in asked}}
    return [(row, {"shop": shops[its.get("work", "")], "budget": usual[row.school_id]} | its) for row, its in asked]


class StartSeasonView(StaffView):
    """Opens the jobs that can begin now, writes the shop orders and files what the plan buys; each where the user may."""

    permission_required = PERMISSION

    def post(self, request: StaffRequest) -> HttpResponse:
        form = StartSeasonForm(request.POST, today=timezone.localdate())
        plan = redirect(f"{reverse('desk:season-plan')}?{request.GET.urlencode()}")
        if not form.is_valid():
            why = next(iter([*form.errors.get("plan", []), *form.non_field_errors()]), "")
            messages.error(request, f"{gettext('Nothing was started.')} {why}".rstrip())
            return plan
        sealed = form.cleaned_data["plan"]
        numbers = sealed["numbers"] if form.cleaned_data["jobs"] else []
        to_send = sealed.get("orders", []) if form.cleaned_data["orders"] else []
        requests = sealed["requests"] if form.cleaned_data["purchases"] else []
        rows = list(Instrument.objects.visible_to(request.user, OPEN).filter(asset_number__in=numbers))
        sent = list(Instrument.objects.visible_to(request.user, SEND).filter(asset_number__in=to_send))
        schools = {school.code: school for school in schools_of(request.user, PERMISSION)}
        asked = [(schools[one["school"]], one) for one in requests if one["school"] in schools]
        try:
            started = start_season(
                instruments=rows, orders=orders_of(sent, today=timezone.localdate()), requests=asked,
                needed_by=sealed["needed_by"], nonce=form.cleaned_data["nonce"], actor=request.user, at=timezone.now(),
            )  # fmt: skip
        except RefusedError as error:
            messages.error(request, str(error))
            return plan
        here = {row.asset_number for row in (*rows, *sent)}
        words = gettext("It is no longer at your school.")
        gone = {number: words for number in (*numbers, *to_send) if number not in here}
        waiting = (
            Instrument.objects.visible_to(request.user, OPEN)
            .filter(asset_number__in=sealed.get("waiting", []))
            .exclude(whereabouts=Whereabouts.IN_STORE)
        )  # back since the plan was shown
        for words in stopped_words(started.stopped | gone | waits_words(waiting)):
            messages.warning(request, words)
        return redirect(f"{reverse('desk:season-started')}?{urlencode({'at': started.at.isoformat()})}")


class SeasonStartedView(StaffView):
    """What the user started at one moment."""

    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form = StartedForm(request.GET)
        started = form.is_valid() and started_at(form.cleaned_data["at"], by=request.user, now=timezone.now())
        if not started or not (started.jobs or started.orders or started.requests):
            return redirect("desk:season-plan")
        return render(request, "desk/season_started.html", started_page(started))


class PurchaseRequestsView(StaffView):
    permission_required = "inventory.view_purchase"

    def get(self, request: StaffRequest) -> HttpResponse:
        rows = PurchaseRequest.objects.visible_to(request.user).for_table()
        page: Any = Paginator(rows, PER_PAGE).get_page(request.GET.get("page"))
        closable = set(PurchaseRequest.objects.visible_to(request.user, PERMISSION).values_list("pk", flat=True))
        lines = [request_line(row, may_close=row.pk in closable) for row in page.object_list]
        return render(request, "desk/purchase_requests.html", {"page": page, "lines": lines})


class ClosePurchaseView(StaffView):
    permission_required = PERMISSION

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        row: PurchaseRequest = row_or_404(PurchaseRequest.objects.visible_to(request.user, PERMISSION), pk=pk)
        form = ClosePurchaseForm(request.POST)
        if not form.is_valid():
            messages.error(request, gettext("Choose whether it was bought or is withdrawn."))
            return redirect("desk:purchase-requests")
        try:
            closed = close_purchase(
                purchase=row, closed_as=form.cleaned_data["closed_as"], actor=request.user, at=timezone.now()
            )
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            words = gettext("The purchase request is closed: %(how)s.")
            messages.success(request, words % {"how": str(PurchaseRequest.Closed(closed.closed_as).label).lower()})
        return redirect("desk:purchase-requests")


class PurchaseRequestView(StaffView):
    """A filed request as a paper to sign."""

    permission_required = "inventory.view_purchase"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = PurchaseRequest.objects.visible_to(request.user).for_table()
        row: PurchaseRequest = row_or_404(rows, pk=pk)
        return self.export_pdf(
            lambda: purchase_request_pdf(request_page(row)),
            what="purchase request",
            schools=[row.school_id],
            name=f"purchase-request-{row.pk}.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=redirect("desk:purchase-requests"),
        )


class SeasonPlanPdfView(StaffView):
    permission_required = PERMISSION

    def get(self, request: StaffRequest) -> HttpResponse:
        form, now = form_of(request.user, request.GET), timezone.now()
        if not form.is_valid():
            return redirect("desk:season-plan")
        found = season_for(request.user, form, now=now)
        work = found_before(user=request.user, asked=asked_of(form))
        solution = solution_for(found.season, work=work) if work else None
        return self.export_pdf(
            lambda: season_plan_pdf(page_of(found, form, now=now, solution=solution)),
            what="season plan",
            schools=schools_in(form, schools_of(request.user, PERMISSION)),
            name="season-plan.pdf",
            failed=gettext("The PDF could not be made. Choose fewer schools, or use this page."),
            back=redirect("desk:season-plan"),
        )
