"""Before a list is registered: who has what, whether it is taken on trust, and whether it was cleaned."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.services.long_work import PAGE
from core.views import FormView, StaffRequest, start_work
from desk.forms.listed import ListedForm
from desk.services.listed import publish_with_loans
from desk.tasks import LISTED, answers_of, listed_words, refused_before
from inventory.models import ImportBatch
from inventory.services.importing import keep_cleaner
from inventory.tasks import work_on
from inventory.views.importing import batch_of

ROWS_AT_ONCE = 2000  # instruments and loans written while one waits; the worker writes more
REFUSED = "refused"  # in the address: whoever asks comes from where it was refused


class ListedView(FormView):
    permission_required = "desk.lend"
    template_name = "desk/listed.html"
    row_name = "batch"

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        return self.goes_on(**lookup) or super().get(request, **lookup)

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        return self.goes_on(**lookup) or super().post(request, **lookup)

    def goes_on(self, **lookup: Any) -> HttpResponseRedirect | None:
        """Lead to where the list is: with the worker, checked again, or registered."""
        self.batch = batch = batch_of(self.request, **lookup)
        if (work := work_on(batch, user=self.request.user).first()) is not None:
            return redirect("core:work-one", work.pk)
        if batch.state != ImportBatch.State.JUDGED:
            return redirect("inventory:import-batch", batch.pk)
        return None

    def row(self, **lookup: Any) -> ImportBatch:
        if not (self.batch.rows_new or self.batch.rows_known):
            raise Http404("nothing to register or to lend")
        return self.batch

    def form(self, row: ImportBatch, data: Any = None) -> ListedForm:
        user, today = self.request.user, timezone.localdate()
        if data is not None:
            return ListedForm.of(row, user=user, today=today, data=data)
        refused = refused_before(row, user=user)
        form = ListedForm.of(row, user=user, today=today, data=answers_of(refused, row) if refused else None)
        if refused and REFUSED in self.request.GET and form.is_valid():
            form.add_error(None, refused.message)
        return form

    def context(self, row: ImportBatch, form: ListedForm) -> dict[str, Any]:
        out = [one for person in form.people for one in person.out]
        return {
            "asked": [(person, form[person.key]) for person in form.people if person.is_asked],
            "settled": [
                (person, form[person.key] if person.key in form.fields else None)
                for person in form.people
                if not person.is_asked
            ],
            "many_new": sum(not person.students for person in form.people),
            "out": len(out),
            "out_registered": sum(one.instrument is not None for one in out),
            "refused": form.named.refused,
            "left_alone": form.named.settled,
        }

    def save(self, row: ImportBatch, form: ListedForm) -> str:
        lent = form.lent
        if row.rows_new + len(lent.out) > ROWS_AT_ONCE:
            return self.leave_to_worker(row, form)
        published = publish_with_loans(
            batch=row, lent=lent, vouched=form.vouched, today=timezone.localdate(), **self.actor_and_time()
        )
        if published.is_repeated:
            messages.info(self.request, listed_words(published, lent))
        else:
            messages.success(self.request, listed_words(published, lent))
        return reverse("inventory:import-batch", args=[row.pk])

    def leave_to_worker(self, row: ImportBatch, form: ListedForm) -> str:
        keep_cleaner(batch=row, cleaned_by=form.cleaned_data["cleaned_by"])
        arguments = {
            "batch": row.pk, "day": form.today.isoformat(), "answers": form.answers(),
            PAGE: f"{self.request.path}?{REFUSED}=1",
        }  # fmt: skip
        return start_work(
            self.request, function=LISTED, title=gettext("Import your spreadsheet"),
            permission=self.permission_required, arguments=arguments,
        )  # fmt: skip
