"""A family's account, what is entered in it, and the lists over all accounts."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from core.money import dollars
from core.tables import SHEET_FORMS, show_page
from core.views import (
    FormView,
    SearchedView,
    StaffRequest,
    StaffView,
    confirm_approver,
    list_filter,
    row_or_404,
)
from inventory.access import has_perm_at_school
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import schools_of
from loans.forms.filters import schools_in
from loans.forms.ledger import BalanceFilterForm, EntryForm, JournalForm, ReversalForm, YearlyFeeForm
from loans.models import LedgerEntry, Posting, Student
from loans.pages.ledger import POSTING_HEADER, RECEIPTS, account_lines, posting_rows
from loans.pdf.ledger import receipt_pdf, statement_pdf
from loans.rules.due import school_year_words
from loans.rules.ledger import Sort
from loans.selectors.families import LANGUAGES
from loans.selectors.ledger import (
    WAIVED_THROUGH,
    approvers_of,
    entries_of,
    owed_by,
    school_year_of,
    waived_for,
    with_balances,
    yet_to_charge,
)
from loans.services.ledger import charge_yearly_fee, enter_in_ledger, reverse_entry
from loans.tables import BalanceTable, EntryTable

VIEW, CHANGE = "loans.view_ledger", "loans.change_ledger"
PER_PAGE = 50
AT_ONCE = 1000  # rows read together
TITLES: dict[Sort, Promise] = {
    Sort.FEE: gettext_lazy("Charge a fee"),
    Sort.PAYMENT: gettext_lazy("Enter a payment"),
    Sort.REFUND: gettext_lazy("Pay back"),
    Sort.WAIVER: gettext_lazy("Waive"),
}
DONE: dict[Sort, Promise] = {
    Sort.FEE: gettext_lazy("%(amount)s charged."),
    Sort.PAYMENT: gettext_lazy("%(amount)s received. The receipt is beside it."),
    Sort.REFUND: gettext_lazy("%(amount)s paid back."),
    Sort.WAIVER: gettext_lazy("%(amount)s waived."),
}


def account_of(request: StaffRequest, pk: int, permission: str = VIEW) -> Student:
    return row_or_404(Student.objects.visible_to(request.user, permission).select_related("school"), pk=pk)


def language_or_404(language: str) -> str:
    if language not in LANGUAGES:
        raise Http404("nobody has written the words in this language")
    return language


class AccountView(StaffView):
    """What a family was charged, paid and owes."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        student = account_of(request, pk)
        lines, owed = account_lines(entries_of(student)), owed_by(student)
        may_change = student.erased_at is None and has_perm_at_school(request.user, CHANGE, student.school_id)
        context = {
            "student": student,
            "lines": lines[::-1],
            "owed": owed,
            "credit": -owed,
            "may_change": may_change,
            "may_see_loss": has_perm_at_school(request.user, "loans.view_loss", student.school_id),
            "may_contact": student.erased_at is None
            and has_perm_at_school(request.user, "loans.view_student", student.school_id),
        }
        return render(request, "loans/account.html", context)


class EnterView(FormView):
    """Enter a fee, a payment, a refund or a waiver."""

    permission_required = CHANGE
    template_name = "loans/enter.html"
    row_name = "student"

    def row(self, **lookup: Any) -> Student:
        if lookup["sort"] not in {sort.value for sort in TITLES}:
            raise Http404("entered elsewhere")
        return account_of(self.request, lookup["pk"], CHANGE)

    @property
    def sort(self) -> Sort:
        return Sort(self.kwargs["sort"])

    def form(self, row: Student, data: Any = None) -> EntryForm:
        owed = owed_by(row)
        due = {Sort.PAYMENT: owed, Sort.WAIVER: owed, Sort.REFUND: -owed}.get(self.sort)
        initial = {"on": timezone.localdate(), "amount": due if due and due > 0 else None}
        approvers = approvers_of(row.school_id, but_for=self.request.user)
        year = school_year_of(timezone.localdate())
        asker = self.request.user
        return EntryForm(data, sort=self.sort, approvers=approvers, asker=asker, year=year, initial=initial)

    def save(self, row: Student, form: EntryForm) -> str:
        data = form.cleaned_data
        if form.asks_password:
            confirm_approver(self.request, form, data["approved_by"])
        reckoning = {"by": data["by"]} if "by" in data else {}
        if data.get("through"):
            reckoning[WAIVED_THROUGH] = data["through"]
        entry = enter_in_ledger(
            student=row,
            sort=self.sort,
            amount=data["amount"],
            on=data["on"],
            note=data.get("note", ""),
            approved_by=data.get("approved_by"),
            is_confirmed=form.asks_password,
            reckoning=reckoning,
            nonce=data["nonce"],
            **self.actor_and_time(),
        )
        if not entry.amount:
            year = school_year_words(data["through"])
            return self.done(_("Yearly fees are waived through %(year)s.") % {"year": year}, "loans:account", row.pk)
        return self.done(str(DONE[self.sort]) % {"amount": dollars(entry.amount)}, "loans:account", row.pk)

    def context(self, row: Student, form: EntryForm) -> dict[str, Any]:
        owed = owed_by(row)
        return {"title": TITLES[self.sort], "owed": owed, "credit": -owed}


class YearlyFeeView(FormView):
    """Charge the instrument fee to all who borrow this school year and were not charged yet."""

    permission_required = CHANGE
    template_name = "loans/yearly_fee.html"

    def form(self, row: None, data: Any = None) -> YearlyFeeForm:
        today = timezone.localdate()
        year = school_year_of(today)
        counts = {
            school: (yet_to_charge(school, year=year).count(), waived_for(school, year=year).count())
            for school in schools_of(self.request.user, CHANGE)
        }
        note = _("Instrument fee %(year)s") % {"year": school_year_words(year)}
        fee = catalog().settings["yearly_fee_amount"]
        return YearlyFeeForm(data, counts=counts, initial={"on": today, "note": note, "amount": fee or None})

    def save(self, row: None, form: YearlyFeeForm) -> str:
        data = form.cleaned_data
        typed = {name: data[name] for name in ("amount", "on", "note", "nonce")}
        count = charge_yearly_fee(school=form.chosen_school(), **typed, **self.actor_and_time())
        left_out = waived_for(form.chosen_school(), year=school_year_of(data["on"])).count()
        if not count:
            raise RefusedError(
                _("Everyone who borrows there has already been charged for this school year, or is waived.")
            )
        text = ngettext("%(count)d family is charged.", "%(count)d families are charged.", count) % {"count": count}
        if left_out:
            waived = ngettext("%(count)d is left out by a waiver.", "%(count)d are left out by a waiver.", left_out)
            text = f"{text} {waived % {'count': left_out}}"
        return self.done(text, "loans:balances")


class ReverseEntryView(FormView):
    """Take an entry back by its opposite: it was a mistake."""

    permission_required = CHANGE
    template_name = "loans/reverse.html"
    row_name = "entry"
    form_class = ReversalForm

    def row(self, **lookup: Any) -> LedgerEntry:
        rows = LedgerEntry.objects.visible_to(self.request.user, CHANGE)
        return row_or_404(rows.select_related("student", "reversed_by", "reverses"), pk=lookup["pk"])

    def save(self, row: LedgerEntry, form: ReversalForm) -> str:
        data = form.cleaned_data
        reverse_entry(entry=row, because=data["because"], nonce=data["nonce"], **self.actor_and_time())
        return self.done(_("Reversed. Both entries stay in the account."), "loans:account", row.student_id)


class ReceiptView(StaffView):
    """The receipt of a payment or a refund as PDF; taking it is logged."""

    permission_required = VIEW

    def get(self, request: StaffRequest, pk: int, language: str) -> HttpResponse:
        rows = LedgerEntry.objects.visible_to(request.user).filter(sort__in=RECEIPTS)
        entry = row_or_404(rows.select_related("student", "school", "actor", "reversed_by"), pk=pk)
        return self.export_pdf(
            lambda: receipt_pdf(entry, language=language_or_404(language), at=timezone.now()),
            what="receipt",
            schools=[entry.school_id],
            name=f"receipt-{pk}.pdf",
            failed=_("The receipt could not be laid out. Please contact support."),
            back=redirect("loans:account", entry.student_id),
        )


class StatementView(StaffView):
    """The account as a letter to the family, as PDF; it names a guardian, so that taking it is logged."""

    permission_required = "loans.view_student"

    def get(self, request: StaffRequest, pk: int, language: str) -> HttpResponse:
        student = account_of(request, pk, self.permission_required)
        return self.export_pdf(
            lambda: statement_pdf(student, language=language_or_404(language), sender=request.user, at=timezone.now()),
            what="statement",
            schools=[student.school_id],
            name=f"statement-{pk}.pdf",
            failed=_("The statement could not be laid out. Please contact support."),
            back=redirect("loans:account", pk),
        )


class BalanceListView(SearchedView):
    """Who owes what; those that owe most come first."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponseBase:
        form = BalanceFilterForm(self.query() or {"state": "owes"})
        rows = form.narrow(with_balances(Student.objects.visible_to(request.user, VIEW)).select_related("school"))
        table = BalanceTable(rows, exclude=("school",) if schools_of(request.user, VIEW).count() < 2 else ())
        show_page(table, request, per_page=PER_PAGE)
        keys = list(schools_of(request.user, VIEW).values_list("pk", flat=True)[:2])
        if file := self.list_export(table, what="accounts", title=_("Accounts"), schools=keys):
            return file
        template = "loans/balances.html" + ("#list" if request.htmx else "")
        acts = [{"label": _("Entries by day"), "url": reverse("loans:journal")}]
        if request.user.has_perm(CHANGE):
            acts.append({"label": _("Charge the yearly fee"), "url": reverse("loans:yearly-fee")})
        return render(request, template, {"table": table, "form": form, "acts": acts})


class JournalView(StaffView):
    """Every entry, day by day, and the way to take them along."""

    permission_required = VIEW

    def get(self, request: StaffRequest) -> HttpResponseBase:
        schools = schools_of(request.user, VIEW)
        form = JournalForm(request.GET, schools=schools)
        rows = form.narrow(LedgerEntry.objects.visible_to(request.user))
        table = EntryTable(
            rows.select_related("student", "school", "actor", "approved_by"),
            exclude=("school",) if schools.count() < 2 else (),
        )
        show_page(table, request, per_page=PER_PAGE)
        keys = schools_in(form, schools)
        if file := self.list_export(table, what="entries", title=_("Entries by day"), schools=keys):
            return file
        template = "loans/journal.html" + ("#list" if request.htmx else "")
        return render(request, template, {"table": table, "form": form, "filters": list_filter(request.GET)})


class LedgerExportView(StaffView):
    """The entries as filtered for the school's bookkeeper: a row for each posting. Posted: it is an entry of the log."""

    permission_required = VIEW
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest) -> HttpResponseBase:
        form = request.POST.get("form", "")
        if form not in SHEET_FORMS:
            return redirect("loans:journal")
        schools = schools_of(request.user, VIEW)
        chosen = JournalForm(request.POST, schools=schools)
        entries = chosen.narrow(LedgerEntry.objects.visible_to(request.user))
        rows = Posting.objects.filter(entry__in=entries.order_by().values("pk"))
        rows = rows.select_related(
            "entry__school", "entry__student", "entry__loan__instrument", "entry__actor", "entry__approved_by",
            "entry__reversed_by",
        ).order_by("entry__on", "entry_id", "-cents")  # fmt: skip
        keys = schools_in(chosen, schools)
        lending = frozenset(schools_of(request.user, "loans.lend_instrument").values_list("pk", flat=True))
        cells = posting_rows(rows.iterator(chunk_size=AT_ONCE), lending=lending)
        name = f"ledger-{timezone.localdate():%Y-%m-%d}.{form}"
        return self.list_file(
            name=name, what="ledger", title=_("Ledger"), header=POSTING_HEADER, rows=cells, count=rows.count(),
            schools=keys, back=reverse("loans:journal"),
        )  # fmt: skip
