"""What is to be cleaned, and many of them recorded as clean in one act."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from django.utils.translation import ngettext

from core.views import FormView
from inventory.catalog.load import catalog
from inventory.forms.care import ToCleanForm
from inventory.models import Instrument
from inventory.selectors.cleaning import CLEAN, cleaned_lately, to_clean
from inventory.services.care import record_cleanings

SHOWN = 200  # of those to clean; the rest follows when these are clean
ACTS_SHOWN = 5


class ToCleanView(FormView):
    """All that are to be cleaned are checked, or those of one kind (``?kind=``)."""

    permission_required = CLEAN
    template_name = "inventory/to_clean.html"

    def form(self, row: None, data: Any = None) -> ToCleanForm:
        # Not only what is still to be cleaned: a form that is posted twice means the same instruments.
        return ToCleanForm(data, instruments=Instrument.objects.visible_to(self.request.user, CLEAN))

    def save(self, row: None, form: ToCleanForm) -> str:
        data = form.cleaned_data
        rows = list(data["instruments"])
        record_cleanings(
            instruments=rows,
            done=form.cleaned,
            product=data["product"],
            wet_minutes=data["wet_minutes"],
            nonce=data["nonce"],
            **self.actor_and_time(),
        )
        words = ngettext("%(count)d instrument is clean.", "%(count)d instruments are clean.", len(rows))
        return self.done(words % {"count": len(rows)}, "inventory:to-clean")

    def context(self, row: None, form: ToCleanForm) -> dict[str, Any]:
        rows = list(to_clean(self.request.user).for_table())
        kind = self.request.GET.get("kind", "")
        shown = [one for one in rows if kind in {"", one.kind_code}][:SHOWN]
        chosen = set(map(str, form["instruments"].value() or ())) if form.is_bound else None
        by_kind = [(code, list(ones)) for code, ones in groupby(rows, key=lambda one: one.kind_code)]
        names = {one.code: one.name for one in catalog().cleaners.values()}
        return {
            "count": len(rows),
            "kind": kind,
            "kinds": [(code, catalog().kind(code).name, len(ones)) for code, ones in by_kind],
            "groups": [
                {
                    "name": catalog().kind(code).name,
                    "steps": [words for _, words in catalog().kind(code).between_players()],
                    "lines": [(one, chosen is None or str(one.pk) in chosen) for one in ones],
                }
                for code, ones in ((code, [one for one in ones if one in shown]) for code, ones in by_kind)
                if ones
            ],
            "shown": len(shown),
            "lately": [
                (one, names.get(one.product, one.product)) for one in cleaned_lately(self.request.user, most=ACTS_SHOWN)
            ],
        }
