"""Instruments kept for parts."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.views import StaffRequest, StaffView, row_or_404
from inventory.access import has_perm_at_school
from inventory.catalog.load.language import stored_language
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.views.rows import InstrumentFormView
from repairs.forms.stock import DoesNotFitForm, MarkForm, TakePartForm, UnmarkForm, WithdrawTakenForm
from repairs.models import Bench, PartsInstrument, PartsInstrumentQuerySet, TakenPart, WorthDecision
from repairs.pages.donors import donor_fits, marked_words, offers_of, taken_lines
from repairs.rules.worth import Answer
from repairs.selectors.demand import somebody_waits_for
from repairs.selectors.donors import parts_instruments_for_list, taken_from, taken_words
from repairs.selectors.worth import worth_of
from repairs.services.donors import take_part, unmark_parts_instrument
from repairs.services.taken_parts import part_does_not_fit, part_fits, withdraw_taken_part
from repairs.services.worth import decide_worth
from repairs.views.one_form import OneFormView


def parts_instruments_for(request: StaffRequest, permission: str) -> PartsInstrumentQuerySet:
    rows = PartsInstrument.objects.visible_to(request.user, permission)
    return rows.standing().select_related("instrument__school", "marked_by")


class PartsInstrumentsView(StaffView):
    """Which instruments give parts, and what is known to fit what."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest) -> HttpResponse:
        context = {"rows": parts_instruments_for_list(request.user), "fits": donor_fits()}
        return render(request, "repairs/parts_instruments.html", context)


class PartsInstrumentView(StaffView):
    """One of them: what it still has, what it gave."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, asset_number: str) -> HttpResponse:
        parts_instrument = row_or_404(
            parts_instruments_for(request, self.permission_required), instrument__asset_number=asset_number
        )
        may_take = has_perm_at_school(request.user, "repairs.take_part", parts_instrument.instrument.school_id)
        context = {
            "instrument": parts_instrument.instrument, "under": marked_words(parts_instrument),
            "offers": offers_of(parts_instrument), "taken": taken_lines(taken_from(parts_instrument)), "may_take": may_take,
        }  # fmt: skip
        return render(request, "repairs/parts_instrument.html", context)


class OfPartsInstrumentView(OneFormView):
    """A form about one of them."""

    permission_required = "repairs.take_part"
    subject = "parts_instrument"
    back = _("Parts instrument")

    def row(self, **lookup: Any) -> PartsInstrument:
        rows = parts_instruments_for(self.request, self.permission_required)
        return row_or_404(rows, instrument__asset_number=lookup["asset_number"])

    def over(self, row: PartsInstrument) -> str:
        return str(row.instrument)

    def back_url(self, row: PartsInstrument) -> str:
        return reverse("repairs:parts-horn", args=[row.instrument.asset_number])


class TakePartView(OfPartsInstrumentView):
    form_class, service = TakePartForm, staticmethod(take_part)
    title, button = _("Take a part"), _("Take it")
    lead = _("Parts fitted to each other stay together, so they are offered as a set.")

    def form_kwargs(self, row: PartsInstrument) -> dict[str, Any]:
        initial, offers = {name: self.request.GET.get(name, "") for name in ("offer", "onto")}, offers_of(row)
        part, _, place = initial["offer"].partition(":")
        initial["offer"] = next((one.key for one in offers if (part, place) in one.spots), "")  # it may be one of a set
        instruments = Instrument.objects.visible_to(self.request.user, self.permission_required)
        return {"offers": offers, "instruments": instruments, "initial": initial}

    def given(self, form: TakePartForm) -> dict[str, Any]:
        return form.taken()

    def message(self, row: PartsInstrument, result: list[TakenPart]) -> str:
        return gettext("Taken for %(number)s. Note later whether it fits.") % {"number": result[0].onto.asset_number}


class UnmarkPartsInstrumentView(OfPartsInstrumentView):
    form_class, service = UnmarkForm, staticmethod(unmark_parts_instrument)
    title, button = _("Put it back in service?"), _("Put it back in service")
    lead = _("It is no longer kept for parts. Parts that were taken stay where they went, and are missing here.")
    success_message = _("Back in service. Inspect it; whatever was taken off it is missing.")

    def next_url(self, row: PartsInstrument, result: None) -> str:
        return reverse("desk:instrument", args=[row.instrument.asset_number])


class MarkPartsInstrumentView(OneFormView, InstrumentFormView):
    """The decision to keep it for parts, taken without the rest of the worth page; it waits for approval like any."""

    permission_required = "repairs.decide_worth"
    form_class, subject = MarkForm, "instrument"
    title, button, back = _("Keep it for parts?"), _("Keep it for parts"), _("Worth it?")
    lead = _(
        "Giving an instrument up needs an approval. It is then no longer lent; it keeps its number and serial, and an "
        "open job on it ends. Tag it PARTS."
    )

    def act(self, row: Instrument, form: MarkForm) -> WorthDecision:
        waits, now = somebody_waits_for(row), timezone.now()
        with stored_language():
            page = worth_of(row, is_student_waiting=waits, now=now, today=timezone.localdate())
        return decide_worth(
            instrument=row, answer=Answer.KEEP_FOR_PARTS, worth=page.worth, is_student_waiting=waits,
            actor=self.request.user, at=now, **form.cleaned_data,
        )  # fmt: skip

    def back_url(self, row: Instrument) -> str:
        return reverse("repairs:worth", args=[row.asset_number])

    def next_url(self, row: Instrument, result: WorthDecision) -> str:
        return reverse("repairs:parts-horn", args=[row.asset_number]) if result.holds else self.back_url(row)

    def message(self, row: Instrument, result: WorthDecision) -> str:
        if not result.holds:
            return gettext("%(number)s is to be kept for parts. It waits for approval.") % {"number": row.asset_number}
        return gettext("%(number)s is kept for parts and is no longer lent.") % {"number": row.asset_number}


def taken_for(request: StaffRequest, permission: str, pk: int) -> TakenPart:
    return row_or_404(TakenPart.objects.visible_to(request.user, permission).for_lines(), pk=pk)


class TakenPartView(StaffView):
    """One part that was taken, or a set: where it came from, where it is, and what can still become of it."""

    permission_required = "repairs.view_stock"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        taken = taken_for(request, self.permission_required, pk)
        (line,) = taken_lines(TakenPart.objects.filter(batch=taken.batch).for_lines())
        may_take = has_perm_at_school(request.user, "repairs.take_part", line.donor.school_id)
        return render(request, "repairs/taken_part.html", {"line": line, "may_take": may_take})


class NoteFitView(StaffView):
    """It fits."""

    permission_required = "repairs.take_part"

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        taken = taken_for(request, self.permission_required, pk)
        try:
            part_fits(taken=taken, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            messages.success(request, gettext("Noted."))
        return redirect("repairs:taken-part", pk)


class OfTakenPartView(OneFormView):
    """A form about a part that was taken."""

    permission_required = "repairs.take_part"
    subject = "taken"
    back = _("The part")

    def row(self, **lookup: Any) -> TakenPart:
        return taken_for(self.request, self.permission_required, lookup["pk"])

    def over(self, row: TakenPart) -> str:
        values = {"part": capfirst(taken_words(list(TakenPart.objects.filter(batch=row.batch).for_lines())))}
        values |= {"donor": row.parts_instrument.instrument.asset_number, "number": row.onto.asset_number}
        return gettext("%(part)s of %(donor)s, for %(number)s") % values

    def back_url(self, row: TakenPart) -> str:
        return reverse("repairs:taken-part", args=[row.pk])


class DoesNotFitView(OfTakenPartView):
    form_class, service = DoesNotFitForm, staticmethod(part_does_not_fit)
    title, button = _("It does not fit"), _("Take it off again")
    lead = _("What it had repaired is open again on the instrument that it comes off.")

    def context(self, row: TakenPart, form: DoesNotFitForm) -> dict[str, Any]:
        words = super().context(row, form)
        if row.went == TakenPart.Went.SHELF:
            words |= {"title": _("Back where it came from?"), "button": _("Put it back")}
            words["lead"] = _("It leaves the stock, and is no longer missing where it came from.")
        return words

    def form_kwargs(self, row: TakenPart) -> dict[str, Any]:
        return {"taken": row, "benches": Bench.objects.visible_to(self.request.user, "repairs.change_stock").in_use()}

    def message(self, row: TakenPart, result: TakenPart) -> str:
        if result.shelf_item is not None and result.went == TakenPart.Went.SHELF:
            return gettext("In stock at %(bench)s.") % {"bench": result.shelf_item.bench}
        number = result.parts_instrument.instrument.asset_number
        return gettext("Back on %(number)s, which no longer lacks it.") % {"number": number}


class WithdrawTakenView(OfTakenPartView):
    form_class, service = WithdrawTakenForm, staticmethod(withdraw_taken_part)
    title, button = _("Entered by mistake?"), _("Entered by mistake")
    lead = _("Both instruments are then as if it had not been taken; their histories keep both entries.")
    success_message = _("Corrected. What was really taken can be entered now.")
