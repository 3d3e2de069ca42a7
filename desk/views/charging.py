"""Wear or damage of a loan that came back: the evidence, and what the family is charged."""

from __future__ import annotations

from functools import cached_property
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.money import dollars
from core.views import FormView, StaffRequest, StaffView, row_or_404
from desk.forms.charging import ChargeForm, DamageForm
from desk.pages.charging import CHOSEN, PRICE, change_rows, chosen_query, sum_lines
from desk.pdf import damage_pdf
from desk.selectors.charging import Charge, Returned, charge_of, photos_of, returned_loan
from desk.services.charging import charge_for_damage
from inventory.access import has_perm_at_school
from loans.models import Loan
from loans.views.ledger import language_or_404

CHANGE = "loans.change_ledger"


def returned_for(request: StaffRequest, pk: int, permission: str) -> Returned:
    """Return a loan that came back to a school where the user has the permission, or raise 404."""
    rows = Loan.objects.visible_to(request.user, permission).for_table()
    rows = rows.select_related("instrument__school", "hand_out", "taken_back")
    return returned_loan(row_or_404(rows.filter(returned_at__isnull=False, taken_back__isnull=False), pk=pk))


class EvidenceView(StaffView):
    """Hand-out and return side by side, what is wear and what is damage, and the most that may be charged."""

    permission_required = "loans.view_ledger"

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        returned = returned_for(request, pk, self.permission_required)
        loan = returned.loan
        form = DamageForm(request.GET if "chosen" in request.GET else None, returned=returned)
        chosen, prices = form.chosen(), form.prices()
        charge = charge_of(returned, chosen=chosen, prices=prices) if chosen else None
        unpriced = charge.unpriced if charge else ()
        with_price = {*unpriced, *prices}
        context = {
            "loan": loan,
            "first": returned.first,
            "instrument": loan.instrument,
            "rows": [
                row | {"price": form[PRICE + row["key"]] if row["key"] in with_price else None}
                for row in change_rows(returned, chosen=chosen, photos=photos_of(returned))
            ],
            "short": [{"row": one, "field": form[PRICE + one.key]} for one in returned.short if not one.is_charged],
            "lines": sum_lines(charge) if charge else [],
            "most": charge.cap.amount if charge and not unpriced else None,
            "entries": returned.entries,
            "query": chosen_query(chosen, prices),
            "may_name": has_perm_at_school(request.user, "loans.view_student_name", loan.school_id),
            "may_charge": bool(returned.offered) and has_perm_at_school(request.user, CHANGE, loan.school_id),
            "may_see": has_perm_at_school(request.user, "inventory.view_instrument", loan.instrument.school_id),
        }
        return render(request, "desk/evidence.html", context)


class EvidencePdfView(StaffView):
    """The same for the family, as PDF in its language."""

    permission_required = "loans.view_ledger"

    def get(self, request: StaffRequest, pk: int, language: str) -> HttpResponse:
        returned = returned_for(request, pk, self.permission_required)
        form = DamageForm(request.GET if "chosen" in request.GET else None, returned=returned)
        chosen = form.chosen()
        charge = charge_of(returned, chosen=chosen, prices=form.prices()) if chosen else None
        code = language_or_404(language)
        return self.export_pdf(
            lambda: damage_pdf(
                returned,
                charge,
                language=code,
                photos=photos_of(returned),
                sender=str(request.user),
                at=timezone.localtime(),
            ),
            what="damage paper",
            schools=[returned.loan.school_id],
            name=f"loan-{pk}-damage.pdf",
            failed=gettext("The paper could not be laid out. Please contact support."),
            back=redirect("desk:evidence", pk),
        )


class ChargeView(FormView):
    """Decide what the family is charged, up to the cap."""

    permission_required = CHANGE
    template_name = "desk/charge.html"
    row_name = "returned"

    @cached_property
    def returned(self) -> Returned:
        return returned_for(self.request, self.kwargs["pk"], CHANGE)

    @cached_property
    def choice(self) -> DamageForm:
        data = self.request.POST if self.request.method == "POST" else self.request.GET
        return DamageForm(data, returned=self.returned)

    @cached_property
    def charge(self) -> Charge:
        return charge_of(self.returned, chosen=self.choice.chosen(), prices=self.choice.prices())

    def row(self, **lookup: Any) -> Returned:
        return self.returned

    def form(self, row: Returned, data: Any = None) -> ChargeForm:
        if data is not None:
            return ChargeForm(data, returned=row)
        chosen, prices = self.choice.chosen(), self.choice.prices()
        most = self.charge.cap.amount
        return ChargeForm(
            returned=row,
            initial={CHOSEN: chosen, "amount": most or None} | {PRICE + key: price for key, price in prices.items()},
        )

    def save(self, row: Returned, form: ChargeForm) -> str:
        entry = charge_for_damage(
            loan=row.loan,
            chosen=form.chosen(),
            prices=form.prices(),
            amount=form.cleaned_data["amount"],
            nonce=form.cleaned_data["nonce"],
            **self.actor_and_time(),
        )
        message = gettext("%(amount)s charged. The family owes it now.") % {"amount": dollars(entry.amount)}
        return self.done(message, "desk:evidence", row.loan.pk)

    def context(self, row: Returned, form: ChargeForm) -> dict[str, Any]:
        chosen, prices = self.choice.chosen(), self.choice.prices()
        rows = change_rows(row, chosen=chosen, photos=({}, {}))
        return {
            "instrument": row.loan.instrument,
            "rows": [one for one in rows if one["is_chosen"]],
            "short": [one for one in row.short if one.key in prices],
            "lines": sum_lines(self.charge) if chosen else [],
            "back_url": f"{reverse('desk:evidence', args=[row.loan.pk])}?chosen=1&{chosen_query(chosen, prices)}",
        }
