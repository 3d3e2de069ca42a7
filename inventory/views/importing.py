"""Import a spreadsheet: send it, say what the columns are, look at what would happen, confirm."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.access import has_perm
from core.responses import file_response
from core.services.long_work import PAGE
from core.sheets import write_csv, write_xlsx
from core.tables import SHEET_FORMS
from core.views import FormView, StaffRequest, StaffView, row_or_404, start_work
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.forms.importing import COLUMN, AnswersForm, ColumnsForm, SendListForm, mended_cells
from inventory.models import ImportBatch, ImportRow
from inventory.pages.mending import mending_of, open_kinds, open_orders, orders_settled
from inventory.selectors.importing import (
    MAY_IMPORT,
    PROBLEMS_FIRST,
    batches_for,
    current_columns,
    earlier_publication,
    examples_of,
    guessed_columns,
    import_schools,
    kind_words,
    lines_of,
    problem_table,
)
from inventory.services.importing import (
    KEPT_FOR,
    answer_list,
    begin_import,
    choose_columns,
    drop_import,
    forget_old_lists,
    forget_problem_rows,
    judge_again,
    judge_more,
    mend_rows,
    publish_import,
    sample_rows,
)
from inventory.tasks import CHECK, READ, REGISTER, registered_words, work_on

BATCHES_SHOWN = 20
ROWS_SHOWN = 50
READ_AT_ONCE = 60_000  # bytes of a workbook that are read while its sender waits: some 1,500 rows
ROWS_AT_ONCE = 2000  # checked or written while one waits; the worker does more
UNFINISHED = (ImportBatch.State.RECEIVED, ImportBatch.State.READING)


def batch_of(request: StaffRequest, pk: int) -> ImportBatch:
    return row_or_404(batches_for(request.user).select_related("school", "actor"), pk=pk)


class ImportView(FormView):
    """Send a list, or go on with one that was sent."""

    uploads = 1
    permission_required = MAY_IMPORT
    template_name = "inventory/import.html"
    refused_field = "file"

    def form(self, row: None, data: Any = None) -> SendListForm:
        files = None if data is None else self.request.FILES
        return SendListForm(data, files, schools=import_schools(self.request.user))

    def context(self, row: None, form: SendListForm) -> dict[str, Any]:
        return {"batches": batches_for(self.request.user).select_related("school", "actor")[:BATCHES_SHOWN]}

    def save(self, row: None, form: SendListForm) -> str:
        sent, by = form.cleaned_data, self.actor_and_time()
        begun = begin_import(
            school=sent["school"],
            data=sent["file"].read(),
            filename=sent["file"].name,
            worksheet=sent["worksheet"].strip(),
            read_at_once=READ_AT_ONCE,
            nonce=sent["nonce"],
            **by,
        )
        forget_old_lists(at=by["at"])
        if not begun.is_new:
            messages.info(self.request, gettext("You already sent this file. Continue with it here."))
        if begun.other_sheets:
            read = gettext("The worksheet “%(sheet)s” was read. Not read: %(others)s.")
            messages.info(self.request, read % {"sheet": begun.sheet, "others": ", ".join(begun.other_sheets)})
        if begun.is_new and begun.batch.state == ImportBatch.State.RECEIVED:
            return go_on(self.request, begun.batch)
        return reverse("inventory:import-batch", args=[begun.batch.pk])


class OneBatchView(StaffView):
    permission_required = MAY_IMPORT

    def back(self, batch: ImportBatch) -> HttpResponseRedirect:
        return HttpResponseRedirect(reverse("inventory:import-batch", args=[batch.pk]))

    def checked(self, batch: ImportBatch, act: Callable[..., Any]) -> HttpResponseRedirect:
        """Act, which leaves rows to check, and check them."""
        if not self.succeeds(act, batch):
            return self.back(batch)
        return HttpResponseRedirect(go_on(self.request, batch))

    def succeeds(self, act: Callable[..., Any], batch: ImportBatch, *, message: str = "") -> bool:
        """Do it and say so, or say why not in a message."""
        try:
            act(batch=batch, actor=self.request.user, at=timezone.now())
        except RefusedError as refusal:
            messages.error(self.request, str(refusal))
            return False
        if message:
            messages.success(self.request, message)
        return True


class ImportBatchView(OneBatchView):
    """How the list stands: being judged, waiting for a yes, or done."""

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        batch = batch_of(self.request, pk)
        if (work := work_on(batch, user=request.user).first()) is not None:
            return redirect("core:work-one", work.pk)
        if batch.state == ImportBatch.State.READING and not batch.mapping:
            return redirect("inventory:import-columns", batch.pk)
        if batch.state in UNFINISHED:
            return render(request, "inventory/import_paused.html", {"batch": batch})
        return result_page(request, batch)


def go_on(request: StaffRequest, batch: ImportBatch) -> str:
    """Read or check the rows, in this request where they are few, and return where that is seen."""
    page = reverse("inventory:import-batch", args=[batch.pk])
    batch.refresh_from_db(fields=["state", "rows_judged"])
    if batch.state == ImportBatch.State.RECEIVED:
        title = gettext("Reading the list")
        return leave_to_worker(request, batch, READ, title=title, page=reverse("inventory:import"))
    if batch.state == ImportBatch.State.READING and batch.rows_total - batch.rows_judged > ROWS_AT_ONCE:
        return leave_to_worker(request, batch, CHECK, title=gettext("Checking every row"), page=page)
    judge_more(batch=batch, today=timezone.localdate())
    return page


def leave_to_worker(request: StaffRequest, batch: ImportBatch, function: str, *, title: str, page: str) -> str:
    """Have the worker go on with a list; ``page`` is where a refusal leads back to."""
    schools = None if batch.may_cross_schools else [batch.school_id]
    return start_work(
        request, function=function, title=title, permission=MAY_IMPORT, schools=schools,
        arguments={"batch": batch.pk, PAGE: page},
    )  # fmt: skip


def result_page(request: StaffRequest, batch: ImportBatch, *, refusal: str = "", status: int = 200) -> HttpResponse:
    """The checked rows, all or of one state; a refusal stands above them."""
    wanted = request.GET.get("state", "")
    rows = batch.rows.filter(state=wanted) if wanted in ImportRow.State.values else batch.rows.all()
    rows = rows.order_by(PROBLEMS_FIRST, "number")
    page = Paginator(rows, ROWS_SHOWN).get_page(request.GET.get("page"))
    address = reverse("inventory:import-batch", args=[batch.pk])
    is_published = batch.state == ImportBatch.State.PUBLISHED
    sums = {
        "": (batch.rows_total, gettext("rows")),
        ImportRow.State.NEW: (batch.rows_new, gettext("new")),
        ImportRow.State.KNOWN: (batch.rows_known, gettext("already registered")),
        ImportRow.State.PROBLEM: (batch.rows_problem, gettext("with a problem")),
    }
    if batch.rows_skipped:
        sums[ImportRow.State.SKIPPED] = (batch.rows_skipped, gettext("totals or headings, skipped"))
    is_open = batch.state == ImportBatch.State.JUDGED
    asks = answers_form(batch) if is_open else None
    mending = mending_of(page, mapping=current_columns(batch), kind_words=kind_words()) if is_open else {}
    context: dict[str, Any] = {
        "batch": batch,
        "page": page,
        "lines": [line | {"mend": mending.get(line["row"].number)} for line in lines_of(page)],
        "asks": asks if asks and asks.fields else None,
        "names_people": not {"student", "student_last"}.isdisjoint(batch.mapping.values()),
        "may_lend": has_perm(request.user, "desk.lend"),
        "settled": orders_settled(batch) if is_open else [],
        "all_kinds": [kind.name for kind in catalog().kinds.values()],
        "stats": [
            {
                "sum": count,
                "what": what,
                "url": "" if is_published and state != ImportRow.State.PROBLEM else f"{address}?state={state}",
                "current": state == wanted,
            }
            for state, (count, what) in sums.items()
        ],
        "wanted": wanted,
        "refusal": refusal,
        "is_published": is_published,
        "earlier": earlier_publication(batch),
        "to_put_right": batch.rows.filter(state=ImportRow.State.PROBLEM).count(),
        "kept_until": batch.published_at + KEPT_FOR if batch.published_at else None,
    }
    return render(request, "inventory/import_result.html", context, status=status)


class ImportColumnsView(FormView):
    """What each column holds: guessed, with examples, to be put right."""

    permission_required = MAY_IMPORT
    template_name = "inventory/import_columns.html"
    row_name = "batch"

    def row(self, **lookup: Any) -> ImportBatch:
        batch = batch_of(self.request, **lookup)
        if batch.state not in {ImportBatch.State.READING, ImportBatch.State.JUDGED}:
            raise Http404("not read yet, or published: then its columns are settled")
        return batch

    def form(self, row: ImportBatch, data: Any = None) -> ColumnsForm:
        sample = sample_rows(row)
        if data is None:
            return ColumnsForm(guess=current_columns(row, sample=sample))
        return ColumnsForm(data, guess=guessed_columns(school=row.school, header=row.header, sample=sample))

    def context(self, row: ImportBatch, form: ColumnsForm) -> dict[str, Any]:
        sample = sample_rows(row)
        lines = [
            {
                "field": form[f"{COLUMN}{column.index}"],
                "examples": examples_of(column.index, sample=sample),
                "guess": column,
            }
            for column in form.guess.columns
        ]
        return {"lines": lines, "earlier": earlier_publication(row)}

    def save(self, row: ImportBatch, form: ColumnsForm) -> str:
        choose_columns(batch=row, choices=form.choices_made(), **self.actor_and_time())
        return go_on(self.request, row)


class ImportGoOnView(OneBatchView):
    """Read or check what is left: the worker was stopped."""

    def post(self, request: StaffRequest, pk: int) -> HttpResponseRedirect:
        return HttpResponseRedirect(go_on(request, batch_of(request, pk)))


class ImportAgainView(OneBatchView):
    """Judge all rows afresh: the register has changed meanwhile."""

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        return self.checked(batch_of(self.request, pk), judge_again)


def answers_form(batch: ImportBatch, data: Any = None) -> AnswersForm:
    return AnswersForm(data, kinds=open_kinds(batch), orders=open_orders(batch))


class ImportAnswerView(OneBatchView):
    """Say what a loose word means, or which comes first in a column's dates."""

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        batch = batch_of(self.request, pk)
        form = answers_form(batch, request.POST)
        if form.is_valid() and (form.kinds() or form.orders()):
            return self.checked(batch, partial(answer_list, kinds=form.kinds(), orders=form.orders()))
        messages.error(request, gettext("Nothing was chosen, so nothing changed."))
        return self.back(batch)


class ImportMendView(OneBatchView):
    """Put rows with a problem right on the page."""

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        batch = batch_of(self.request, pk)
        rows = batch.rows.filter(state=ImportRow.State.PROBLEM)
        cells = mended_cells(request.POST.dict(), rows=rows)
        if cells:
            return self.checked(batch, partial(mend_rows, cells=cells))
        messages.info(request, gettext("No cell was changed."))
        return self.back(batch)


class ImportConfirmView(OneBatchView):
    """Write all new rows, or none."""

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        batch = batch_of(self.request, pk)
        if batch.state == ImportBatch.State.JUDGED and batch.rows_new > ROWS_AT_ONCE:
            title, page = gettext("Import your spreadsheet"), reverse("inventory:import-batch", args=[pk])
            return HttpResponseRedirect(leave_to_worker(request, batch, REGISTER, title=title, page=page))
        try:
            published = publish_import(batch=batch, actor=request.user, at=timezone.now(), today=timezone.localdate())
        except RefusedError as refusal:
            if batch.state != ImportBatch.State.JUDGED:
                messages.error(request, str(refusal))
                return self.back(batch)
            return result_page(request, batch, refusal=str(refusal), status=422)
        if published.written:
            messages.success(request, registered_words(published.written))
        else:
            messages.info(request, gettext("This list has already been imported. Nothing was added."))
        return self.back(batch)


class ImportDropView(OneBatchView):
    """Discard the list; nothing of it was written."""

    def post(self, request: StaffRequest, pk: int) -> HttpResponseRedirect:
        self.succeeds(
            drop_import, batch_of(self.request, pk), message=gettext("The list was discarded. Nothing was imported.")
        )
        return HttpResponseRedirect(reverse("inventory:import"))


class ImportForgetView(OneBatchView):
    """Delete the problem rows of a list that was imported."""

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        batch = batch_of(self.request, pk)
        done = gettext("The problem rows were deleted. What was imported stays.")
        self.succeeds(forget_problem_rows, batch, message=done)
        return self.back(batch)


class ImportProblemsView(OneBatchView):
    """The rows to correct, with their own columns, as a file that can be sent again."""

    def get(self, request: StaffRequest, pk: int, form: str) -> HttpResponse:
        batch = batch_of(self.request, pk)
        table = problem_table(batch)
        if form not in SHEET_FORMS or not table.rows:
            raise Http404("no such form of file, or no row to correct")
        self.note_export("rows to correct", form=form, rows=len(table.rows), schools=[batch.school_id])
        data = (
            write_csv(header=table.header, rows=table.rows)
            if form == "csv"
            else write_xlsx(title=gettext("Rows to correct"), header=table.header, rows=table.rows)
        )
        return file_response(data, name=f"rows-to-correct-{pk}.{form}", is_download=True)
