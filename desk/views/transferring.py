"""From one school to another, and of another kind than it was entered as."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext

from core.tables import FILE_FORMS
from core.views import FormView, StaffRequest, StaffView, row_or_404
from desk.forms.leaving import KindForm, OfferForm, SettleOfferForm
from desk.pages.leaving import OFFERS_HEADER, hold_lines, offer_rows
from desk.selectors.leaving import offer_of, offers_from, offers_to, transfers_seen
from desk.services.leaving import change_kind, offer, settle_offer
from inventory.access import has_perm_at_school
from inventory.models import Instrument, Transfer, schools_of
from inventory.rules.leaving import TRANSFER
from inventory.views.rows import InstrumentFormView
from repairs.rules.words import lower_first


class OfferView(InstrumentFormView):
    """Offer it to another school, with what goes along."""

    permission_required = TRANSFER
    template_name = "desk/offer.html"

    def form(self, row: Instrument, data: Any = None) -> OfferForm:
        return OfferForm(data, instrument=row, accessories=list(row.accessories.all()))

    def save(self, row: Instrument, form: OfferForm) -> str:
        data = form.cleaned_data
        transfer = offer(
            instrument=row, to_school=data["to_school"], because=data["because"], accessories=form.accessories(),
            nonce=data["nonce"], **self.actor_and_time(),
        )  # fmt: skip
        words = gettext("Offered to %(school)s. It moves when somebody there agrees.")
        return self.done(words % {"school": transfer.to_school}, "desk:transfer", transfer.pk)

    def context(self, row: Instrument, form: OfferForm) -> dict[str, Any]:
        may = partial(has_perm_at_school, self.request.user, school_id=row.school_id)
        return {"holds": hold_lines(row, may=may), "offered": offer_of(row)}


class TransfersView(StaffView):
    """What is offered to the user's schools, and what these have offered."""

    permission_required = TRANSFER

    def get(self, request: StaffRequest) -> HttpResponseBase:
        joined = ("instrument", "from_school", "to_school", "actor")
        coming = list(offers_to(request.user).select_related(*joined))
        going = list(offers_from(request.user).select_related(*joined))
        file = self.export_lines(
            what="transfers", title=gettext("Between schools"), header=OFFERS_HEADER, rows=offer_rows(coming, going),
            count=len(coming) + len(going), schools=[school.pk for school in schools_of(request.user, TRANSFER)],
        )  # fmt: skip
        if file:
            return file
        context = {"coming": coming, "going": going, "files": FILE_FORMS}
        return render(request, "desk/transfers.html", context)


class SettleOfferView(FormView):
    """Agree to what is offered, or decline it; who offered it may withdraw it."""

    permission_required = TRANSFER
    template_name = "desk/transfer.html"
    row_name = "transfer"

    def row(self, **lookup: Any) -> Transfer:
        rows = transfers_seen(self.request.user).select_related(
            "instrument__school", "from_school", "to_school", "actor", "settled_by"
        )
        return row_or_404(rows, **lookup)

    def may_agree(self, row: Transfer) -> bool:
        return has_perm_at_school(self.request.user, TRANSFER, row.to_school_id)

    def form(self, row: Transfer, data: Any = None) -> SettleOfferForm:
        return SettleOfferForm(data, may_agree=self.may_agree(row))

    def save(self, row: Transfer, form: SettleOfferForm) -> str:
        data, is_agreed = form.cleaned_data, form.cleaned_data["answer"] == "yes"
        settle_offer(
            transfer=row, is_agreed=is_agreed, note=data["note"], room_name=data.get("room_name", ""),
            **self.actor_and_time(),
        )  # fmt: skip
        if is_agreed:
            words = gettext("%(number)s is at %(school)s now. Inspect it, and count what came with it.")
            values = {"number": row.instrument.asset_number, "school": row.to_school}
            return self.done(words % values, "desk:instrument", row.instrument.asset_number)
        return self.done(gettext("The offer has ended. It stays where it is."), "desk:transfers")

    def context(self, row: Transfer, form: SettleOfferForm) -> dict[str, Any]:
        names = {one.code: str(one) for one in row.instrument.accessories.all()}
        accessories = [(names.get(code, code), count) for code, count in row.accessories.items()]
        return {
            "instrument": row.instrument,
            "accessories": accessories,
            "may_see": has_perm_at_school(self.request.user, "inventory.view_instrument", row.instrument.school_id),
        }


class CorrectKindView(InstrumentFormView):
    """It was entered as the wrong kind: say what it is."""

    permission_required = "inventory.change_instrument"
    template_name = "desk/correct_kind.html"

    def form(self, row: Instrument, data: Any = None) -> KindForm:
        return KindForm(data, instrument=row)

    def save(self, row: Instrument, form: KindForm) -> str:
        saved = change_kind(instrument=row, **form.cleaned_data, **self.actor_and_time())
        words = gettext("%(number)s is now recorded as: %(kind)s.") % {
            "number": row.asset_number,
            "kind": lower_first(saved.kind.name),
        }
        return self.done(words, "desk:instrument", row.asset_number)
