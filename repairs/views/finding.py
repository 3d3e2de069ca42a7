"""Something damaged at a step, or something new found on the bench: it joins the plan."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext

from core.context import is_held
from core.views import StaffRequest, StaffView
from core.waited import tapped_at
from inventory.catalog.load import catalog
from inventory.catalog.schema import Part
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from repairs.forms.findings import FindingForm
from repairs.models import Job
from repairs.rules.facts import Outcome
from repairs.rules.words import left_words
from repairs.selectors.planning import job_state, step_of
from repairs.services.jobs import Damage, add_finding_to_job, do_step
from repairs.views.working import WORK, back_to, job_or_404, outcome_message, show_job


def part_of(instrument: Instrument, code: str) -> Part | None:
    return next((part for part in instrument.parts if part.code == code), None)


def in_words(part: Part, fault: str) -> str:
    return f"{part.name[:1].upper()}{part.name[1:]}: {catalog().fault_name(fault)}"


class FindingView(StaffView):
    """Pick a part, then what is wrong there, then how bad: one page, reached twice."""

    uploads = 1
    permission_required = WORK
    is_damage = False

    def shown(
        self, request: StaffRequest, job: Job, *, form: FindingForm | None, refused: str = "", status: int = 200
    ) -> HttpResponse:
        step = request.POST.get("step", request.GET.get("step", ""))
        parts = job.instrument.parts
        forms = [FindingForm(part=part, auto_id=f"{part.code}_%s") for part in parts] if is_held(request) else []
        context = {
            "job": job, "instrument": job.instrument, "parts": parts, "form": form, "forms": forms, "step": step,
            "nonce": request.POST.get("nonce") or uuid.uuid4(), "is_damage": self.is_damage, "refused": refused,
        }  # fmt: skip
        return render(request, "repairs/finding.html", context, status=status)

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, WORK)
        if job.closed_at is not None:
            return show_job(request, job)
        part = part_of(job.instrument, request.GET.get("part", ""))
        return self.shown(request, job, form=FindingForm(part=part) if part else None)

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, WORK)
        part = part_of(job.instrument, request.POST.get("part", ""))
        if part is None:
            return self.shown(request, job, form=None, refused=gettext("Choose the part first."), status=422)
        form = FindingForm(request.POST, request.FILES, part=part)
        if not form.is_valid():
            return self.shown(request, job, form=form, refused=form.sentence, status=422)
        try:
            level, sentence = self.keep(request, job, form)
        except RefusedError as error:
            return self.shown(request, job, form=form, refused=str(error), status=422)
        messages.add_message(request, level, sentence)
        return back_to(request, job)

    def keep(self, request: StaffRequest, job: Job, form: FindingForm) -> tuple[int, str]:
        raise NotImplementedError


class FoundView(FindingView):
    def keep(self, request: StaffRequest, job: Job, form: FindingForm) -> tuple[int, str]:
        data, at = form.cleaned_data, timezone.now()
        plan = add_finding_to_job(
            job=job, picture=data["photo"], nonce=data["nonce"], actor=request.user, at=at, **form.finding()
        )
        words = gettext("Added to the plan: %(finding)s. %(left)s")
        return messages.SUCCESS, words % {"finding": in_words(form.part, data["fault"]), "left": left_words(plan)}


class DamageView(FindingView):
    """The step ended with damage; the part of the step is proposed."""

    is_damage = True

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, WORK)
        if job.closed_at is not None:
            return show_job(request, job)
        step = step_of(job, job_state(job).plan, request.GET.get("step", ""))
        if step is None and not is_held(request):  # kept for any step: the address says which
            if "step" not in request.GET:  # the link by which a phone asks for what it keeps
                return redirect("repairs:job", pk)
            raise Http404("no such step in the plan")
        part = part_of(job.instrument, request.GET.get("part", step.part if step and "part" not in request.GET else ""))
        return self.shown(request, job, form=FindingForm(part=part) if part else None)

    def keep(self, request: StaffRequest, job: Job, form: FindingForm) -> tuple[int, str]:
        data, step, at = form.cleaned_data, request.POST.get("step", ""), timezone.now()
        result = do_step(
            job=job, step_key=step, outcome=Outcome.DAMAGED, damage=Damage(**form.finding()), note=data["note"],
            picture=data["photo"], nonce=data["nonce"], actor=request.user, at=at,
            tapped_at=tapped_at(at, not_before=job.opened_at),
        )  # fmt: skip
        return outcome_message(result, damage=in_words(form.part, data["fault"]))
