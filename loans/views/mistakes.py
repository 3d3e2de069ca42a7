"""A loan that was a mistake, other due dates, and another term."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import Count
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from core.days import day_of
from core.views import FormView, row_or_404
from inventory.catalog.load import catalog
from loans.forms.mistakes import LEFT, OTHER, DueDateForm, DueDatesForm, RenewForm, UndoLoanForm
from loans.models import Loan, LoanQuerySet
from loans.rules.due import end_of_school_year, school_year_ends
from loans.rules.grades import in_order
from loans.selectors.lending import term_before
from loans.services import change_due_dates, lend_to_right_student, renew_loan, undo_loan, undo_renewal
from loans.tasks import queue_papers_of

LEND = "loans.lend_instrument"


class OpenLoanView(FormView, is_base=True):
    """A form about one open loan of a school where the user lends."""

    row_name = "loan"

    def row(self, **lookup: Any) -> Loan:
        rows = Loan.objects.visible_to(self.request.user, self.permission_required).for_table()
        return row_or_404(rows, pk=lookup["pk"])


class UndoLoanView(OpenLoanView):
    """Take back a loan as if it had not been, or give it to the right student; of a renewal, go on with the term before."""

    permission_required = LEND
    template_name = "loans/undo.html"

    def row(self, **lookup: Any) -> Loan:
        row = super().row(**lookup)
        self.before = term_before(row)
        return row

    def form(self, row: Loan, data: Any = None) -> forms.Form:
        return UndoLoanForm(data, loan=row) if self.before is None else forms.Form(data)  # there is nothing to ask

    def context(self, row: Loan, form: forms.Form) -> dict[str, Any]:
        return {"before": self.before}

    def save(self, row: Loan, form: forms.Form) -> str:
        if self.before is not None:
            before = undo_renewal(loan=row, **self.actor_and_time())
            return self.done(_("Undone. This loan continues as before."), "loans:loan", before.pk)
        what = form.cleaned_data["what"]
        if what == OTHER:
            loan = lend_to_right_student(
                loan=row,
                student=form.cleaned_data["student"],
                nonce=form.cleaned_data["nonce"],
                **self.actor_and_time(),
            )
            return self.done(
                _("Lent to the right student. The agreement is still to be signed."), "loans:loan", loan.pk
            )
        undo_loan(loan=row, left_the_room=what == LEFT, **self.actor_and_time())
        return self.done(_("Undone. It counts as never lent."), "loans:loan", row.pk)


class DueDateView(OpenLoanView):
    permission_required = LEND
    template_name = "loans/due.html"

    def form(self, row: Loan, data: Any = None) -> DueDateForm:
        return DueDateForm(data, initial={"due_on": row.due_on})

    def save(self, row: Loan, form: DueDateForm) -> str:
        changed = change_due_dates(loans=[row], due_on=form.cleaned_data["due_on"], **self.actor_and_time())
        queue_papers_of(changed)
        return self.done(
            _("The due date is changed.") if changed else _("It already has that date."), "loans:loan", row.pk
        )


class RenewView(OpenLoanView):
    """Another term for the same student, with a new agreement to sign."""

    permission_required = LEND
    template_name = "loans/renew.html"

    def form(self, row: Loan, data: Any = None) -> RenewForm:
        begins = max(timezone.localdate(), row.due_on)  # the term after the one that is agreed
        ends = school_year_ends(catalog().settings)
        return RenewForm(data, initial={"due_on": end_of_school_year(today=begins, ends=ends)})

    def save(self, row: Loan, form: RenewForm) -> str:
        loan = renew_loan(loan=row, **form.cleaned_data, **self.actor_and_time())
        return self.done(_("Renewed. The new agreement is to be signed."), "loans:loan", loan.pk)


class DueDatesView(FormView):
    """Another date for loans that are due on one day (``due``), as over the summer: all are checked at first, or none."""

    permission_required = LEND
    template_name = "loans/due_dates.html"
    row_name = "day"

    def out(self) -> LoanQuerySet:
        return Loan.objects.open().visible_to(self.request.user, self.permission_required)

    def row(self, **lookup: Any) -> date | None:
        return day_of(self.request.GET.get("due", ""))

    def form(self, row: date | None, data: Any = None) -> forms.Form:
        if row is None:
            return forms.Form(data)  # the day comes first
        rows = self.out().filter(due_on=row)
        if grade := self.request.GET.get("grade", "").strip():
            rows = rows.filter(student__grade__iexact=grade)
        initial: dict[str, list[int]] = {"loans": []} if "none" in self.request.GET else {}
        return DueDatesForm(data, loans=rows.for_table().order_by("student__sort_name", "pk"), initial=initial)

    def context(self, row: date | None, form: forms.Form) -> dict[str, Any]:
        if row is None:
            return {"days": self.out().order_by("due_on").values("due_on").annotate(count=Count("pk"))}
        grades = self.out().filter(due_on=row).exclude(student__grade="").order_by()
        return {
            "grade": self.request.GET.get("grade", ""),
            "is_none": "none" in self.request.GET,
            "grades": in_order(set(grades.values_list("student__grade", flat=True))),
        }

    def save(self, row: date | None, form: forms.Form) -> str:
        if row is None:
            return reverse("loans:due-dates")
        changed = change_due_dates(**form.cleaned_data, **self.actor_and_time())
        queue_papers_of(changed)
        text = ngettext(
            "The due date of %(count)d loan is changed.", "The due date of %(count)d loans is changed.", len(changed)
        )
        return self.done(text % {"count": len(changed)}, "loans:list")
