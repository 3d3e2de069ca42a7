"""The tech's page of one job: the next step large, and every tap on it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any, ClassVar
from urllib.parse import parse_qsl

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.http import urlencode
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.context import is_held
from core.views import StaffRequest, StaffView, row_or_404
from core.waited import tapped_at
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from repairs.forms.steps import OF_SOAKED, StepForm, StepTapForm
from repairs.models import Attempt, Job, JobQuerySet
from repairs.pages.donors import part_sources
from repairs.pages.job import attempt_lines, job_page, usual_parts
from repairs.pages.refused import refusal_notice, stopped_card
from repairs.rules.facts import Outcome, cleaners_for
from repairs.rules.plan import PlannedStep, Soaked, alike, soaked_in
from repairs.rules.words import KNOWN, outcome_words
from repairs.selectors.decisions import refusal_of
from repairs.selectors.planning import job_state, plan_for_job
from repairs.selectors.stock import free_parts_for
from repairs.selectors.worth import spent_on
from repairs.services.jobs import (
    StepResult,
    acknowledge_cautions,
    ask_again,
    begin_wait,
    came_free_after_all,
    count_try,
    do_step,
    start_step,
    stop_clock,
    take_step_tap,
)

WORK = "repairs.do_step"


def jobs_for(request: StaffRequest, permission: str) -> JobQuerySet:
    rows = Job.objects.visible_to(request.user, permission)
    rows = rows.for_table().select_related("closed_by", "play_test", "opened_by")
    return rows.prefetch_related("clocks")


def job_or_404(request: StaffRequest, pk: int, permission: str) -> Job:
    return row_or_404(jobs_for(request, permission), pk=pk)


def job_now(request: StaffRequest, job: Job, permission: str) -> Job:
    """The job as it stands after somebody else may have changed it."""
    return jobs_for(request, permission).filter(pk=job.pk).first() or job


def back_to(request: StaffRequest, job: Job, step: str = "") -> HttpResponseRedirect:
    """To the job, or with its step done, to the day's plan where the job was opened from there."""
    day = request.GET.get("day", "")
    if day and not step:
        return HttpResponseRedirect(f"{reverse('desk:bench-day')}?{urlencode(parse_qsl(day))}")
    query = {name: value for name, value in (("step", step), ("day", day)) if value}
    address = reverse("repairs:job", args=[job.pk])
    return HttpResponseRedirect(f"{address}?{urlencode(query)}" if query else address)


def show_job(
    request: StaffRequest,
    job: Job,
    *,
    form: StepForm | None = None,
    typed: str = "",
    refused: str = "",
    status: int = 200,
) -> HttpResponse:
    """Render the page; with a refused form, what was typed stays on it (``typed`` where the form is another)."""
    if job.closed_at is not None:
        typed = form.data.get("note", "") if form else typed
        context = {"job": job, "instrument": job.instrument, "refused": refused, "typed": typed, "spent": spent_on(job)}
        return render(request, "repairs/job_closed.html", context | {"lines": attempt_lines(job)}, status=status)
    wanted = request.GET.get("step", "") or request.POST.get("step", "")
    page = job_page(job_state(job), user=request.user, now=timezone.now(), step_key=wanted)
    stopped_by = refusal_of(job.instrument_id)
    if stopped_by is not None:
        page["card"] = stopped_card(page["card"], job=job, refused=stopped_by)
        page["refused"] = refusal_notice(stopped_by, reader=request.user)
    card = page["card"]
    if is_held(request) and card and card.first:  # without a signal the phone comes here when those before it are done
        page["card"] = card = replace(card, refusal="", first=())
        page["is_ahead"] = True
    is_asked = card and not card.refusal and not (card.is_proof and page["is_for_shop"])
    page["unread"] = card.unread if card and is_asked else ()
    is_away = job.instrument.whereabouts == "at_shop" or bool(card and card.is_trip)
    if is_held(request) and card and page["unread"] and not is_away:  # the phone notes that they are read
        page["card"], page["is_read_here"] = replace(card, unread=()), True
        card = page["card"]
    about: dict[str, Any] = {}
    if card:
        about = {"parts": card.parts, "soaked": (*card.soaked, *card.same_work), "cleaners": card.cleaners}
    context = {
        "page": page,
        "job": job,
        "instrument": job.instrument,
        "sources": part_sources(card.step.findings, instrument=job.instrument, user=request.user) if card else {},
        "form": form or StepForm(initial={"nonce": uuid.uuid4()}, free_parts=free_parts_for(job), **about),
        "refused": refused,
        "may_work": has_perm_at_school(request.user, WORK, job.instrument.school_id),
    }
    return render(request, "repairs/job.html", context, status=status)


class JobView(StaffView):
    permission_required = "repairs.view_job"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        return show_job(request, job_or_404(request, pk, "repairs.view_job"))


class StepPost(StaffView):
    """A tap that names a step and changes something small; the step stays the one shown, unless it ``leaves`` it."""

    permission_required = WORK
    http_method_names = ["post", "options"]
    service: ClassVar[Callable[..., object]]
    names_step = True  # False: the service is about the job as a whole
    leaves = False
    is_timed = False  # what it notes is of the moment when it was tapped, such as the start of a clock
    message: str | Promise = ""

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, WORK)
        form = StepTapForm(request.POST)
        if not form.is_valid():
            return show_job(request, job, refused=gettext("Choose a step first."), status=422)
        step = form.cleaned_data["step"]
        about = {"job": job, "step_key": step} if self.names_step else {"job": job}
        by: dict[str, Any] = {"actor": request.user, "at": timezone.now()}
        tapped = tapped_at(by["at"], not_before=job.opened_at) if self.is_timed else by["at"]
        act = partial(self.service, **about, **self.said(request), **by | {"at": tapped})
        try:
            take_step_tap(job=job, key=form.cleaned_data["key"], act=act, **by)
        except RefusedError as error:
            return show_job(request, job_now(request, job, WORK), refused=str(error), status=422)
        if self.message:
            messages.info(request, str(self.message))
        return back_to(request, job, "" if self.leaves else step)

    def said(self, request: StaffRequest) -> dict[str, Any]:
        """What else the button says, as the service takes it."""
        return {}


class StartStepView(StepPost):
    service, is_timed = staticmethod(start_step), True


class WaitView(StepPost):
    service, leaves, is_timed = staticmethod(begin_wait), True, True

    def said(self, request: StaffRequest) -> dict[str, Any]:
        return {"with_alike": "with_alike" in request.POST}


class StopClockView(StepPost):
    service = staticmethod(stop_clock)


class CautionsView(StepPost):
    service, is_timed = staticmethod(acknowledge_cautions), True

    def said(self, request: StaffRequest) -> dict[str, Any]:
        return {"shown": request.POST.getlist("shown")}


class CountTryView(StepPost):
    service, message = staticmethod(count_try), _("Noted. Try it once more; then the next way is due.")


class TryAgainView(StepPost):
    service, message = staticmethod(ask_again), _("It is offered again.")


class CameFreeView(StepPost):
    service, leaves, message = staticmethod(came_free_after_all), True, _("Noted: it came free after all.")


class DoStepView(StaffView):
    """Record an outcome; the next page says what it changed."""

    uploads = 1
    permission_required = WORK
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, WORK)
        key = request.POST.get("step", "")
        parts = usual_parts(key, kind=job.instrument.kind)
        soaked: tuple[Soaked | PlannedStep, ...] = ()
        is_asked_of_others = any(name.startswith(OF_SOAKED) for name in request.POST)
        if is_asked_of_others or catalog().is_way(key):
            plan = plan_for_job(job)
            soaked = soaked_in(plan, key) or alike(plan, key)
        cleaners = cleaners_for(key.partition(":")[0], kind=job.instrument.kind, catalog=catalog())
        form = StepForm(
            request.POST, request.FILES, parts=parts, free_parts=free_parts_for(job), soaked=soaked, cleaners=cleaners
        )
        if not form.is_valid():
            refused = "" if form.is_asking else form.sentence  # it asks on, and keeps what was typed meanwhile
            return show_job(request, job, form=form, refused=refused, status=422)
        try:
            at = timezone.now()
            tapped = tapped_at(at, not_before=job.opened_at)
            result = do_step(job=job, actor=request.user, at=at, tapped_at=tapped, **form.attempt())
        except RefusedError as error:
            return show_job(request, job_now(request, job, WORK), form=form, refused=str(error), status=422)
        messages.add_message(request, *outcome_message(result, soaked=form.came_out()))
        return back_to(request, job)


def outcome_message(result: StepResult, damage: str = "", soaked: Mapping[str, str] | None = None) -> tuple[int, str]:
    """(level, sentence) of what an outcome changed."""
    if result.was_known:
        return messages.INFO, gettext(KNOWN)
    attempt = result.attempt
    outcome = Outcome(attempt.outcome)
    ladder_key = attempt.step_key.rpartition(":")[0].rstrip(":") if attempt.rung else ""
    words = outcome_words(outcome, plan=result.plan, ladder_key=ladder_key, saved=result.savings, damage=damage)
    if soaked:
        words = f"{_together_words(attempt, [*soaked.values()])} {words}"
    return messages.SUCCESS if outcome.is_success else messages.INFO, words


def _together_words(attempt: Attempt, others: list[str]) -> str:
    """Say how the parts came out that ended together with a step."""
    if Outcome.DONE in others:
        return gettext("%(all)d recorded together.") % {"all": len(others) + 1}
    if attempt.rung:
        came, outcomes = gettext("%(freed)d of %(all)d came free."), [*others, attempt.outcome]
    else:
        came, outcomes = gettext("%(freed)d of %(all)d came free in the bath."), others
    return came % {"freed": outcomes.count(Outcome.FREED), "all": len(outcomes)}
