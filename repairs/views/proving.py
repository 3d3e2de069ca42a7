"""The end of a job: look again, play it, close; or give it up with a reason."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import PlayTest
from repairs.forms.proving import GiveUpForm, ProveForm
from repairs.models import Job
from repairs.pages.proving import limits_of, notes_of, rechecks
from repairs.selectors.planning import JobState, job_state
from repairs.services.jobs import give_up_job, prove_job
from repairs.views.one_form import OneFormView
from repairs.views.working import back_to, job_or_404, show_job

CLOSE = "repairs.close_job"
RESULT_WORDS = {
    PlayTest.Result.PASS: _("It passed. The job is closed and %(number)s is back in storage."),
    PlayTest.Result.LIMITS: _("It passed with limits. The job is closed and %(number)s is back in storage."),
    PlayTest.Result.FAIL: _("It failed, so the job stays open. Look at the suspects; what you find joins the plan."),
}


class ProveView(StaffView):
    permission_required = CLOSE

    def form(self, state: JobState, data: Any = None) -> ProveForm:
        initial = {"limits_text": limits_of(state)}
        return ProveForm(data, notes=notes_of(state), rechecks=rechecks(state), initial=initial)

    def shown(self, request: StaffRequest, state: JobState, form: ProveForm, *, status: int = 200) -> HttpResponse:
        context = {
            "job": state.job, "instrument": state.job.instrument, "form": form, "left": state.left_to_do,
            "test": catalog().play_tests.get(state.kind.play_test),
            "is_by_note": bool(state.standing.judgement.report.notes),
        }  # fmt: skip
        return render(request, "repairs/prove.html", context, status=status)

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, CLOSE)
        if job.closed_at is not None:
            return show_job(request, job)
        state = job_state(job)
        return self.shown(request, state, self.form(state))

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        job = job_or_404(request, pk, CLOSE)
        if job.closed_at is not None:
            typed = "; ".join(filter(None, (request.POST.get(name, "").strip() for name in ("limits_text", "note"))))
            refused = gettext("The job is already closed; nothing was added.")
            return show_job(request, job, refused=refused, typed=typed, status=422)
        state = job_state(job)
        form = self.form(state, request.POST)
        if form.is_valid():
            try:
                return self.close(request, job, form)
            except RefusedError as error:
                form.add_error(None, str(error))
        return self.shown(request, state, form, status=422)

    def close(self, request: StaffRequest, job: Job, form: ProveForm) -> HttpResponse:
        data, again = form.cleaned_data, form.found_again()
        result, notes = data["result"], form.notes_at_fault(data)
        prove_job(
            job=job, result=result, leaves_rest=result == PlayTest.Result.LIMITS, found_again=again,
            actor=request.user, at=timezone.now(), **notes,
            **{name: data[name] for name in ("limits_text", "tester_plays", "note", "nonce")},
        )  # fmt: skip
        if again:
            messages.warning(request, gettext("Found again: it joins the plan, and the job stays open."))
            return back_to(request, job)
        is_failed = result == PlayTest.Result.FAIL
        say = messages.warning if is_failed else messages.success
        say(request, RESULT_WORDS[PlayTest.Result(result)] % {"number": job.instrument.asset_number})
        if is_failed and notes:
            failed = PlayTest.objects.filter(instrument=job.instrument_id).values_list("pk", flat=True)[:1]
            return redirect("inventory:play-test-result", failed[0])
        return back_to(request, job)


class GiveUpView(OneFormView):
    permission_required = CLOSE
    template_name = "repairs/give_up.html"
    form_class, service, subject = GiveUpForm, staticmethod(give_up_job), "job"

    def row(self, **lookup: Any) -> Job:
        return job_or_404(self.request, lookup["pk"], CLOSE)

    def context(self, row: Job, form: GiveUpForm) -> dict[str, Any]:
        return {"job": row}

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        job = self.row(**lookup)
        return self.shown(job, self.form(job)) if job.closed_at is None else show_job(request, job)

    def message(self, row: Job, result: Job) -> str:
        return gettext("The job is closed. %(number)s is back in storage as is.") % {
            "number": row.instrument.asset_number
        }

    def next_url(self, row: Job, result: Job) -> str:
        return reverse("repairs:jobs")
