"""Two records of one instrument: merged, and taken apart again."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.utils.translation import gettext

from core.views import StaffRequest
from desk.forms.listed import MergeForm
from desk.selectors.finding_instruments import merged_into
from desk.services.merging import merge_records
from inventory.models import Instrument
from inventory.services.merging import unmerge_instrument
from inventory.views.rows import InstrumentFormView

CHANGE = "inventory.change_instrument"


class MergeView(InstrumentFormView):
    """Say which other record is the same instrument; both are shown before anything is done."""

    permission_required = CHANGE
    template_name = "desk/merge.html"
    refused_field = "other"

    def form(self, row: Instrument, data: Any = None) -> MergeForm:
        others = Instrument.objects.visible_to(self.request.user, CHANGE).for_table().exclude(pk=row.pk)
        return MergeForm(data or self.request.GET or None, others=others.filter(merged_into=None))

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        form = self.form(row)
        return self.shown(row, form, status=422 if form.is_bound and not form.is_valid() else 200)

    def context(self, row: Instrument, form: MergeForm) -> dict[str, Any]:
        other = form.cleaned_data.get("other") if form.is_bound and form.is_valid() else None
        return {"other": other, "pair": [row, other], "merged": list(merged_into(row))}

    def save(self, row: Instrument, form: MergeForm) -> str:
        away = form.cleaned_data["other"]
        merge_records(kept=row, away=away, **self.actor_and_time())
        numbers = {"away": away.asset_number, "kept": row.asset_number}
        text = gettext("%(away)s leads to %(kept)s now. Both histories are kept.") % numbers
        return self.done(text, "desk:instrument", row.asset_number)


class UnmergeView(InstrumentFormView):
    """Make a merged record one of its own again. The address is that of the record merged away."""

    permission_required = CHANGE
    template_name = "desk/merge.html"

    def save(self, row: Instrument, form: Any) -> str:
        unmerge_instrument(away=row, **self.actor_and_time())
        text = gettext("%(number)s is a separate record again.") % {"number": row.asset_number}
        return self.done(text, "desk:instrument", row.asset_number)

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        return self.http_method_not_allowed(request)
