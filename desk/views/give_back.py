"""Give-back week: scan what comes in, one after another; what it owes after that waits in lists of its own."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext
from django_htmx.http import HttpResponseClientRedirect

from core.keys import key_of
from core.views import StaffRequest, StaffView, reads_labels, row_or_404
from desk.forms.scanning import GiveBackForm
from desk.pages.give_back import back_lines, refusal_of
from desk.selectors.give_back import SHOWN, TAKE_BACK, back_today, reports_on, scanned, to_inspect
from desk.selectors.lending import walk_since
from desk.services.lending import inspect_as_handed_out, take_back_at_desk
from inventory.exceptions import RefusedError
from loans.models import Loan
from loans.selectors.giving_back import due_days, expected_back, progress
from loans.services import correct_accessories_back, undo_return

PILE_SHOWN = 200


@reads_labels
class GiveBackView(StaffView):
    """One box: each scan takes its loan back, everything that went along counted as here."""

    permission_required = "desk.take_back"

    def get(self, request: StaffRequest) -> HttpResponse:
        return self.shown(GiveBackForm(initial={"now": "now" in request.GET}))

    def post(self, request: StaffRequest) -> HttpResponse:
        form = GiveBackForm(request.POST)
        if not form.is_valid():
            return self.shown(form, refused=form.sentence, status=422)
        text = form.cleaned_data["text"]
        scan = scanned(request.user, text)
        refused = refusal_of(scan, text=text, today=timezone.localdate())
        if scan.loan is not None and form.cleaned_data["now"]:
            return self.go(f"{reverse('desk:take-back', args=[scan.loan.instrument.asset_number])}?line=1")
        if scan.loan is not None:
            try:
                take_back_at_desk(
                    loan=scan.loan,
                    accessories_back={row["code"]: int(row["count"]) for row in scan.loan.accessories},
                    walked=walk_since(scan.loan),
                    is_inspected_later=True,
                    actor=request.user,
                    at=timezone.now(),
                )
            except RefusedError as error:
                refused = str(error)
        if not refused and not request.htmx:
            return redirect("desk:give-back")
        return self.shown(form, refused=refused, status=422 if refused else 200)

    def go(self, url: str) -> HttpResponse:
        return HttpResponseClientRedirect(url) if self.request.htmx else redirect(url)

    def shown(self, form: GiveBackForm, *, refused: str = "", status: int = 200) -> HttpResponse:
        """Show the page, or to the script its running list alone."""
        user, now = self.request.user, timezone.now()
        today = timezone.localdate(now)
        days = due_days(user, today=today)
        back, total = progress(expected_back(user, due_on=days[0][0], today=today)) if days else (0, 0)
        loans = list(back_today(user, now=now)[:SHOWN])
        reports = reports_on(user, [loan.instrument_id for loan in loans])
        context = {
            "form": form,
            "refused": refused,
            "lines": back_lines(loans, now=now, reports=reports),
            "due_on": days[0][0] if days else None,
            "back": back,
            "total": total,
            "pile": to_inspect(user).count(),
        }
        template = "desk/give_back.html" + ("#running" if self.request.htmx else "")
        return render(self.request, template, context, status=status)


class BackLineView(GiveBackView, is_base=True):
    """An act on one line of the running list, which is shown again after it."""

    http_method_names = ["post", "options"]

    def act(self, loan: Loan) -> None:
        raise NotImplementedError

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:  # type: ignore[override]
        loan = row_or_404(Loan.objects.visible_to(request.user, TAKE_BACK), pk=pk)
        refused = ""
        try:
            self.act(loan)
        except RefusedError as error:
            refused = str(error)
        if not request.htmx and not refused:
            return redirect("desk:give-back")
        return self.shown(GiveBackForm(), refused=refused, status=422 if refused else 200)


class UndoReturnView(BackLineView):
    permission_required = "desk.take_back"

    def act(self, loan: Loan) -> None:
        undo_return(loan=loan, actor=self.request.user, at=timezone.now())


class MissingBackView(BackLineView):
    """One tap on an accessory: one fewer of it is here; a tap on what is missing: it is here after all."""

    permission_required = "desk.take_back"

    def act(self, loan: Loan) -> None:
        code, _, count = self.request.POST.get("back", "").rpartition(":")
        counted = {row["code"]: int(row["count"]) for row in loan.accessories_back}
        if (here := key_of(count)) is None:
            raise RefusedError(gettext("Tap what is missing."))
        correct_accessories_back(
            loan=loan, accessories_back=counted | {code: here}, actor=self.request.user, at=timezone.now()
        )


class ToInspectView(StaffView):
    """The pile: what came back and nobody has looked at, in the order it came."""

    permission_required = "inventory.inspect_instrument"

    def get(self, request: StaffRequest) -> HttpResponse:
        rows = to_inspect(request.user)
        context: dict[str, Any] = {"loans": list(rows[:PILE_SHOWN]), "count": rows.count()}
        return render(request, "desk/to_inspect.html", context)


class SameBackView(StaffView):
    """Somebody looked it over: it came back as it went out."""

    permission_required = "inventory.inspect_instrument"
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        loan = row_or_404(to_inspect(request.user), pk=pk)
        try:
            inspect_as_handed_out(loan=loan, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            words = gettext("%(number)s came back as it went out.")
            messages.success(request, words % {"number": loan.instrument.asset_number})
        return redirect("desk:to-inspect")
