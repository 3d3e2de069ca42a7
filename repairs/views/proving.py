"""The end of a job: look again, play it, close; or give it up with a reason."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from core.views import StaffRequest, StaffView
from inventory.exceptions import RefusedError
from inventory.models import PlayTest
from repairs.forms import GiveUpForm, ProveForm
from repairs.models import Job
from repairs.pages.proving import Proof, proof_of
from repairs.selectors.planning import job_state
from repairs.services.jobs import give_up_job, prove_job
from repairs.views.rows import job_or_404
from repairs.views.working import back_to, show_job

CLOSE = "repairs.close_job"
SAID = {
    PlayTest.Result.PASS: "It passed. The job is closed and {number} is back in store.",
    PlayTest.Result.LIMITS: "It passed with limits. The job is closed and {number} is back in store.",
    PlayTest.Result.FAIL: "It failed; the job stays open. Look at the suspects; what you find joins the plan.",
}


class ProveView(StaffView):
    permission_required = CLOSE

    def shown(
        self, request: StaffRequest, job: Job, proof: Proof, form: ProveForm, *, status: int = 200
    ) -> HttpResponse:
        context: dict[str, Any] = {"job": job, "instrument": job.instrument, "proof": proof, "form": form}
        return render(request, "repairs/prove.html", context, status=status)

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, CLOSE)
        if job.closed_at is not None:
            return show_job(request, job)
        proof = proof_of(job_state(job))
        return self.shown(request, job, proof, ProveForm(notes=proof.notes, rechecks=proof.rechecks))

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, CLOSE)
        if job.closed_at is not None:
            typed = "; ".join(filter(None, (request.POST.get(name, "").strip() for name in ("limits_text", "note"))))
            refused = "The job is closed already; nothing was added."
            return show_job(request, job, refused=refused, typed=typed, status=422)
        proof = proof_of(job_state(job))
        form = ProveForm(request.POST, notes=proof.notes, rechecks=proof.rechecks)
        if form.is_valid():
            try:
                return self.close(request, job, form)
            except RefusedError as error:
                form.add_error(None, str(error))
        return self.shown(request, job, proof, form, status=422)

    def close(self, request: StaffRequest, job: Job, form: ProveForm) -> HttpResponse:
        data, again = form.cleaned_data, form.found_again()
        result = data["result"]
        prove_job(
            job=job,
            result=result,
            actor=request.user,
            at=timezone.now(),
            leaves_rest=result == PlayTest.Result.LIMITS,
            found_again=again,
            limits_text=data["limits_text"],
            failed_notes=data["failed_notes"] if result == PlayTest.Result.FAIL else (),
            tester_plays=data["tester_plays"],
            note=data["note"],
            nonce=data["nonce"],
        )
        if again:
            messages.warning(request, "Found again: it joins the plan, and the job stays open.")
            return back_to(job)
        messages.success(request, SAID[PlayTest.Result(result)].format(number=job.instrument.asset_number))
        if result == PlayTest.Result.FAIL and data["failed_notes"]:
            failed = PlayTest.objects.filter(instrument=job.instrument_id).values_list("pk", flat=True)[:1]
            return redirect("inventory:play-test-result", failed[0])
        return back_to(job)


class GiveUpView(StaffView):
    permission_required = CLOSE

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, CLOSE)
        if job.closed_at is not None:
            return show_job(request, job)
        return render(request, "repairs/give_up.html", {"job": job, "form": GiveUpForm()})

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, CLOSE)
        form = GiveUpForm(request.POST)
        if form.is_valid():
            try:
                give_up_job(job=job, actor=request.user, at=timezone.now(), **form.cleaned_data)
            except RefusedError as error:
                form.add_error(None, str(error))
            else:
                messages.success(
                    request, f"The job is closed; {job.instrument.asset_number} is back in store as it is."
                )
                return redirect("repairs:jobs")
        return render(request, "repairs/give_up.html", {"job": job, "form": form}, status=422)
