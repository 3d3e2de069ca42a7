"""A loan that was a mistake, and other due dates."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import Count
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from core.views import FormView, row_or_404
from inventory.exceptions import RefusedError
from loans.forms.mistakes import LEFT, OTHER, DueDateForm, DueDatesForm, UndoLoanForm
from loans.models import Loan, LoanQuerySet
from loans.services import change_due_dates, lend_to_right_student, undo_loan

LEND = "loans.lend_instrument"


class OpenLoanView(FormView, is_base=True):
    """A form about one open loan of a school where the user lends."""

    row_name = "loan"

    def row(self, **lookup: Any) -> Loan:
        rows = Loan.objects.visible_to(self.request.user, self.permission_required).for_table()
        return row_or_404(rows, pk=lookup["pk"])


class UndoLoanView(OpenLoanView):
    """Take back a loan as if it had not been, or give it to the right student."""

    permission_required = LEND
    template_name = "loans/undo.html"

    def form(self, row: Loan, data: Any = None) -> UndoLoanForm:
        return UndoLoanForm(data, loan=row)

    def save(self, row: Loan, form: UndoLoanForm) -> str:
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
        return self.done(_("Taken back. It counts as never lent."), "loans:loan", row.pk)


class DueDateView(OpenLoanView):
    permission_required = LEND
    template_name = "loans/due.html"

    def form(self, row: Loan, data: Any = None) -> DueDateForm:
        return DueDateForm(data, initial={"due_on": row.due_on})

    def save(self, row: Loan, form: DueDateForm) -> str:
        changed = change_due_dates(loans=[row], due_on=form.cleaned_data["due_on"], **self.actor_and_time())
        return self.done(
            _("The due date is changed.") if changed else _("That is its date already."), "loans:loan", row.pk
        )


class DueDatesView(FormView):
    """Another date for all that are due on one day, such as the end of the year."""

    permission_required = LEND
    template_name = "loans/due_dates.html"

    def out(self) -> LoanQuerySet:
        return Loan.objects.open().visible_to(self.request.user, self.permission_required)

    def form(self, row: None, data: Any = None) -> DueDatesForm:
        due = self.out().order_by("due_on").values_list("due_on").annotate(count=Count("pk"))
        return DueDatesForm(data, due=list(due))

    def save(self, row: None, form: DueDatesForm) -> str:
        data = form.cleaned_data
        rows = self.out().filter(due_on=date.fromisoformat(data["due_now"]))
        if data["grade"]:
            rows = rows.filter(student__grade__iexact=data["grade"])
        changed = change_due_dates(loans=list(rows), due_on=data["due_on"], **self.actor_and_time())
        if not changed:
            raise RefusedError(_("No loan of that grade is due that day, so nothing was changed."))
        text = ngettext(
            "The due date of %(count)d loan is changed.", "The due date of %(count)d loans is changed.", len(changed)
        )
        return self.done(text % {"count": len(changed)}, "loans:list")
