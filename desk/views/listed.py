"""Before a list is registered: who has what, whether it is taken on trust, and whether it was cleaned."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from core.views import FormView
from desk.forms.listed import ListedForm
from desk.selectors.listed import people_in
from desk.services.listed import Lent, publish_with_loans
from inventory.catalog.load import catalog
from inventory.models import ImportBatch
from inventory.services.importing import Vouched
from inventory.views.importing import batch_of
from loans.rules.due import end_of_school_year, school_year_ends


class ListedView(FormView):
    permission_required = "desk.lend"
    template_name = "desk/listed.html"
    row_name = "batch"

    def row(self, **lookup: Any) -> ImportBatch:
        batch = batch_of(self.request, **lookup)
        if batch.state != ImportBatch.State.JUDGED or not (batch.rows_new or batch.rows_known):
            raise Http404("not checked yet, or registered")
        return batch

    def form(self, row: ImportBatch, data: Any = None) -> ListedForm:
        today = timezone.localdate()
        return ListedForm(
            data,
            named=people_in(row, user=self.request.user),
            today=today,
            due_on=end_of_school_year(today=today, ends=school_year_ends(catalog().settings)),
            trusted_until=today + timedelta(days=int(catalog().settings["trust_days"])),
        )

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
        data = form.cleaned_data
        lent = Lent(form.people, form.who(), data.get("since"), data["due_on"], data["signed"] == "elsewhere")
        vouched = Vouched(
            trusted_until=form.trusted_until if data["is_trusted"] else None,
            cleaned_on=data["cleaned_on"],
            cleaned_by=data["cleaned_by"],
        )
        published = publish_with_loans(
            batch=row, lent=lent, vouched=vouched, today=timezone.localdate(), **self.actor_and_time()
        )
        if published.is_repeated:
            messages.info(self.request, gettext("This list has already been imported. Nothing was added."))
        else:
            messages.success(self.request, _done(published.written, lent))
        return reverse("inventory:import-batch", args=[row.pk])


def _done(written: int, lent: Lent) -> str:
    """What was saved; loans of instruments that were registered before are counted apart."""
    registered = sum(one.instrument is not None for one in lent.out)
    new = len(lent.out) - registered
    sentences = []
    if written:
        out = ngettext("%(count)d of them is out", "%(count)d of them are out", new) % {"count": new}
        words = ngettext("%(count)d instrument registered", "%(count)d instruments registered", written)
        sentences.append(f"{words % {'count': written}}; {out}." if new else f"{words % {'count': written}}.")
    if registered:
        words = ngettext(
            "%(count)d instrument that was registered before is out now.",
            "%(count)d instruments that were registered before are out now.",
            registered,
        )
        sentences.append(words % {"count": registered})
    return " ".join(sentences)
