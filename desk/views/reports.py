"""One reported problem: who has the instrument, and what is done about it in one tap."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from core.views import FormView, row_or_404
from desk.forms.reports import ReportToFamilyForm, ReportToJobForm
from desk.selectors.lending import may_be_lent, spares_for
from desk.services.reports import report_to_family, report_to_job
from inventory.access import has_perm_at_school
from inventory.models import Instrument, ProblemReport, Whereabouts
from loans.models import Loan
from loans.pages.notices import notice_lines
from loans.selectors.lending import open_loan_of
from loans.tasks import queue_notices
from repairs.models import Bench, Job


class ReportedView(FormView):
    """The report, who has the instrument and how to call them, and the act that comes next.

    Lent, its family is asked to bring it; here, it goes to the bench. Either confirms the report.
    """

    permission_required = "inventory.handle_report"
    template_name = "desk/reported.html"
    row_name = "report"

    loan: Loan | None  # of whoever has it

    def row(self, **lookup: Any) -> ProblemReport:
        rows = ProblemReport.objects.visible_to(self.request.user, self.permission_required)
        report = row_or_404(rows.select_related("instrument__school", "confirmed_by"), **lookup)
        self.loan = open_loan_of(report.instrument)
        return report

    def form(self, row: ProblemReport, data: Any = None) -> ReportToFamilyForm | ReportToJobForm:
        if self.loan is not None:
            return ReportToFamilyForm(data, spares=self.spares(row.instrument))
        return ReportToJobForm(data, benches=self.benches(row.instrument))

    def spares(self, instrument: Instrument) -> QuerySet[Instrument]:
        rows = may_be_lent(today=timezone.localdate()).visible_to(self.request.user)
        return rows.filter(kind_code=instrument.kind_code, school=instrument.school_id).order_by("asset_number")

    def benches(self, instrument: Instrument) -> QuerySet[Bench]:
        return Bench.objects.visible_to(self.request.user, "repairs.open_job").in_use().near(instrument.school_id)

    def context(self, row: ProblemReport, form: Any) -> dict[str, Any]:
        instrument, loan = row.instrument, self.loan
        job = Job.objects.open().filter(instrument=instrument).first()
        notices = list(row.notices.all())
        may = partial(has_perm_at_school, self.request.user, school_id=loan.school_id if loan else 0)
        is_open = row.closed_at is None
        return {
            "instrument": instrument,
            "loan": loan,
            "may_name": loan is not None and may("loans.view_student_name"),
            "may_contact": loan is not None and may("loans.view_student"),
            "may_take_back": loan is not None and may("desk.take_back"),
            "may_swap": is_open
            and loan is not None
            and may("desk.lend")
            and may("desk.take_back")
            and bool(spares_for(loan, today=timezone.localdate())),
            "job": job,
            "notices": notice_lines(notices),
            "may_tell": is_open and loan is not None and not notices,
            "may_open": is_open and instrument.whereabouts == Whereabouts.IN_STORE and form.has_benches
            if loan is None and job is None
            else False,
        }

    def save(self, row: ProblemReport, form: Any) -> str:
        fields = {"report": row, "nonce": form.cleaned_data["nonce"], **self.actor_and_time()}
        if isinstance(form, ReportToJobForm):
            job = report_to_job(bench=form.cleaned_data["bench"], **fields)
            self.done(
                _("Confirmed; %(number)s is on the bench.") % {"number": row.instrument.asset_number}, "desk:today"
            )
            return reverse("repairs:job", args=[job.pk])
        report_to_family(bring_on=form.cleaned_data["bring_on"], spare=form.cleaned_data["spare"], **fields)
        queue_notices()
        return self.done(_("Confirmed. The family will be asked to bring it in."), "desk:reported", row.pk)
