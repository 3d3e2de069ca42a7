"""Instruments kept for parts."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView, row_or_404
from inventory.access import has_perm_at_school
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.views.rows import instrument_for
from repairs.forms.stock import FitForm, MarkForm, TakePartForm
from repairs.models import PartsHorn, PartsHornQuerySet, TakenPart
from repairs.pages.donors import donor_fits, offers_of, parts_horn_page
from repairs.selectors.donors import parts_horns_for_list
from repairs.services.donors import mark_parts_horn, note_fit, take_part, unmark_parts_horn
from repairs.views.one_form import OneFormView


def horns_for(request: StaffRequest, permission: str) -> PartsHornQuerySet:
    rows = PartsHorn.objects.visible_to(request.user, permission)
    return rows.standing().select_related("instrument__school", "marked_by")


class PartsHornsView(StaffView):
    """Which instruments give parts, and what is known to fit what."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest) -> HttpResponse:
        context = {"horns": parts_horns_for_list(request.user), "fits": donor_fits()}
        return render(request, "repairs/parts_horns.html", context)


class PartsHornView(StaffView):
    """One of them: what it still has, what it gave."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        horn = row_or_404(horns_for(request, self.permission_required), instrument__asset_number=asset_number)
        may_take = has_perm_at_school(request.user, "repairs.take_part", horn.instrument.school_id)
        return render(request, "repairs/parts_horn.html", {"page": parts_horn_page(horn), "may_take": may_take})


class TakePartView(OneFormView):
    permission_required = "repairs.take_part"
    button = _("Take it")

    def row(self, **lookup: Any) -> PartsHorn:
        rows = horns_for(self.request, self.permission_required)
        return row_or_404(rows, instrument__asset_number=lookup["asset_number"])

    def form(self, row: PartsHorn, data: Any = None) -> forms.Form:
        initial = {"offer": self.request.GET.get("offer", ""), "onto": self.request.GET.get("onto", "")}
        instruments = Instrument.objects.visible_to(self.request.user, self.permission_required)
        return TakePartForm(data, offers=offers_of(row), instruments=instruments, initial=initial)

    def save(self, row: PartsHorn, form: forms.Form) -> str:
        taken = take_part(parts_horn=row, **self.actor_and_time(), **cast("TakePartForm", form).taken())
        words = gettext("Taken for %(number)s. Note later whether it fits.")
        messages.success(self.request, words % {"number": taken[0].onto.asset_number})
        return reverse("repairs:parts-horn", args=[row.instrument.asset_number])

    def heading(self, row: PartsHorn) -> dict[str, Any]:
        return {
            "title": gettext("Take a part"),
            "over": str(row.instrument),
            "lead": gettext("Parts fitted to each other stay together, so they are offered as a set."),
            "back_url": reverse("repairs:parts-horn", args=[row.instrument.asset_number]),
            "back": gettext("Parts instrument"),
        }


class MarkPartsHornView(OneFormView):
    permission_required = "repairs.take_part"
    button = _("Keep it for parts")

    def row(self, **lookup: Any) -> Instrument:
        return instrument_for(self.request, lookup["asset_number"], self.permission_required)

    def form(self, row: Instrument, data: Any = None) -> forms.Form:
        return MarkForm(data)

    def save(self, row: Instrument, form: forms.Form) -> str:
        mark_parts_horn(instrument=row, **self.actor_and_time(), **form.cleaned_data)
        words = gettext("%(number)s is kept for parts and is no longer lent.")
        messages.success(self.request, words % {"number": row.asset_number})
        return reverse("repairs:parts-horn", args=[row.asset_number])

    def heading(self, row: Instrument) -> dict[str, Any]:
        return {
            "title": gettext("Keep it for parts?"),
            "over": str(row),
            "lead": gettext(
                "It is no longer lent. It keeps its number and serial, and an open job on it ends. Tag it PARTS."
            ),
            "back_url": reverse("repairs:worth", args=[row.asset_number]),
            "back": gettext("Worth it?"),
        }


class UnmarkPartsHornView(OneFormView):
    permission_required = "repairs.take_part"
    button = _("Put it back in service")

    def row(self, **lookup: Any) -> PartsHorn:
        rows = horns_for(self.request, self.permission_required)
        return row_or_404(rows, instrument__asset_number=lookup["asset_number"])

    def form(self, row: PartsHorn, data: Any = None) -> forms.Form:
        return MarkForm(data)

    def save(self, row: PartsHorn, form: forms.Form) -> str:
        unmark_parts_horn(parts_horn=row, **self.actor_and_time(), **form.cleaned_data)
        messages.success(self.request, gettext("Back in service. Inspect it: the parts that were taken are missing."))
        return reverse("desk:instrument", args=[row.instrument.asset_number])

    def heading(self, row: PartsHorn) -> dict[str, Any]:
        return {
            "title": gettext("Put it back in service?"),
            "over": str(row.instrument),
            "lead": gettext("It is no longer kept for parts. Parts that were taken stay where they went."),
            "back_url": reverse("repairs:parts-horn", args=[row.instrument.asset_number]),
            "back": gettext("Parts instrument"),
        }


class NoteFitView(StaffView):
    """Whether a part that was taken fits."""

    permission_required = "repairs.take_part"

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = TakenPart.objects.visible_to(request.user, self.permission_required)
        taken = row_or_404(rows.select_related("parts_horn__instrument", "onto"), pk=pk)
        form = FitForm(request.POST)
        try:
            note_fit(taken=taken, fit=form.data.get("fit", ""), actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, gettext("Noted."))
        number = taken.parts_horn.instrument.asset_number
        return (
            redirect("repairs:parts-horn", number)
            if taken.parts_horn.ended_at is None
            else redirect("desk:instrument", number)
        )
