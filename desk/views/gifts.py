"""Letters to whoever gave an instrument."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView
from desk.pages.gifts import TITLES, gift_letter
from desk.pdf import gift_pdf
from inventory.views.register import gift_of
from inventory.views.rows import instrument_for


class GiftLetterView(StaffView):
    """The thank-you letter or the acceptance, as PDF. Neither holds a value."""

    permission_required = "inventory.view_donor"

    def get(self, request: StaffRequest, asset_number: str, which: str) -> HttpResponse:
        instrument = instrument_for(request, asset_number, self.permission_required)
        gift = gift_of(instrument)
        if gift is None or which not in TITLES:
            raise Http404("no such letter")
        letter = gift_letter(
            which, instrument=instrument, gift=gift, day=timezone.localdate(), signer=request.user.name
        )
        return self.export_pdf(
            lambda: gift_pdf(letter),
            what="gift letter",
            schools=[instrument.school_id],
            name=f"{which}-{instrument.asset_number}.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=redirect("inventory:donation", instrument.asset_number),
        )
