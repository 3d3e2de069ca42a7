"""What staff pages are made of."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from tempfile import SpooledTemporaryFile
from typing import Any, TypeVar
from uuid import NAMESPACE_OID, uuid5

from csp.constants import WASM_UNSAFE_EVAL
from csp.decorators import csp_update
from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.mixins import PermissionRequiredMixin
from django.core.exceptions import ImproperlyConfigured, ObjectDoesNotExist
from django.db import models
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import Resolver404, resolve, reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views import View
from django.views.decorators.cache import never_cache
from django_htmx.middleware import HtmxDetails

from core.exceptions import RefusedError
from core.models import User
from core.pdf import PdfError
from core.pdf_lists import list_pdf
from core.progress import counted
from core.responses import file_response, stream_response
from core.services.exports import note_export
from core.sheets import OutValue, save_xlsx, stream_csv
from core.tables import FILE_FORMS, BaseTable
from core.views.later import IN_MEMORY, do_later, is_for_worker, work_of

Row = TypeVar("Row", bound=models.Model)
# Marks a page for whoever is not logged in; what it shows is for this once.
public = method_decorator([login_not_required, never_cache], name="dispatch")
MOST_PRINTED = 1000  # rows of a list on paper
TOO_LONG = gettext_lazy(
    "More than %(most)s lines are too many to print. Narrow the list down, or take it as a spreadsheet."
)
# Marks a page whose camera reads labels: where the browser cannot, compiled code of our own origin does.
reads_labels = method_decorator(csp_update({"script-src": [WASM_UNSAFE_EVAL]}), name="dispatch")
# Rows of a list that a request makes a file of; the worker makes one of more. A CSV file is sent while it is made.
MOST_AT_ONCE = {"xlsx": 20_000, "pdf": 300}


class StaffRequest(HttpRequest):
    """A request from a logged-in user, with htmx's details."""

    user: User
    htmx: HtmxDetails


class StaffView(PermissionRequiredMixin, View):
    """A page for staff. It must name the permission it needs, or cannot be imported."""

    permission_required: str
    raise_exception = True
    http_method_names = ["get", "head", "post"]  # anything else is refused before a row is looked for
    uploads: int = 0  # photos or files that one post may bring
    request: StaffRequest

    def __init_subclass__(cls, *, is_base: bool = False, **kwargs: Any) -> None:
        """``is_base`` marks a class that pages share; pages derived from it must still name their permission."""
        super().__init_subclass__(**kwargs)
        if not is_base and not getattr(cls, "permission_required", None):
            raise ImproperlyConfigured(f"{cls.__qualname__} names no permission_required")

    def http_method_not_allowed(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """After logging in again in the middle of a post, a user lands on the post's address: redirect to its form."""
        page = page_above(request.path) if request.method == "GET" else ""
        if not page:
            return super().http_method_not_allowed(request, *args, **kwargs)
        messages.warning(request, _("Your session had ended, so nothing was saved. Please try again."))
        return redirect(page)

    def note_export(self, what: str, *, form: str, rows: int, schools: Collection[int]) -> None:
        """Log that this list is taken along as a file; ``schools`` are the keys of those whose rows they are."""
        school = next(iter(schools)) if len(schools) == 1 else None
        work = work_of(self.request)
        nonce = uuid5(NAMESPACE_OID, f"work {work.pk} {what} {form}") if work else None  # it may be tried twice
        note_export(
            what=what, form=form, rows=rows, school=school, actor=self.request.user, at=timezone.now(), nonce=nonce
        )

    def export_pdf(
        self,
        draw: Callable[[], bytes],
        *,
        what: str,
        schools: Collection[int],
        rows: int = 1,
        name: str,
        failed: str,
        back: HttpResponse,
    ) -> HttpResponse:
        """Return the paper as ``pdf_response`` does; once it is drawn, log that it is taken along."""
        answer = pdf_response(self.request, draw, name=name, failed=failed, back=back)
        if answer is not back:
            self.note_export(what, form="pdf", rows=rows, schools=schools)
        return answer

    def list_export(
        self, table: BaseTable, *, what: str, title: str, schools: Collection[int], under: str = ""
    ) -> HttpResponseBase | None:
        """Return the whole list as the file that ``?file=`` in the address asks for, and log it; None if it asks for none.

        ``what`` is the name of the list in the log and of the file.
        """
        if self.request.GET.get("file", "") not in table.files:
            return None
        header, rows = table.file_rows()
        return self.export_lines(
            header=header, rows=rows, count=len(table.data), what=what, title=title, schools=schools, under=under
        )

    def export_lines(
        self,
        *,
        what: str,
        title: str,
        header: Sequence[Any],
        rows: Iterable[Sequence[OutValue]],
        count: int,
        schools: Collection[int],
        under: str = "",
    ) -> HttpResponseBase | None:
        """Return the same of a list that is no table."""
        form = self.request.GET.get("file", "")
        if form not in FILE_FORMS:
            return None
        query = self.request.GET.copy()
        del query["file"]
        return self.list_file(
            name=f"{what.replace(' ', '-')}-{timezone.localdate():%Y-%m-%d}.{form}",
            what=what,
            title=title,
            header=header,
            rows=rows,
            count=count,
            schools=schools,
            back=f"{self.request.path}?{query.urlencode()}",
            under=under,
        )

    def list_file(
        self,
        *,
        name: str,
        what: str,
        title: str,
        header: Sequence[Any],
        rows: Iterable[Sequence[OutValue]],
        count: int,
        schools: Collection[int],
        back: str,
        under: str = "",
        on_paper: Sequence[int] | None = None,
    ) -> HttpResponseBase:
        """Return a list as the file that ``name`` ends with, and log it as ``what``.

        On paper it has the columns at the places ``on_paper``, or all; where it cannot be printed, ``back`` says why.
        What takes long is left to the worker, unless the list is narrowed to words that only the session holds.
        """
        form = name.rpartition(".")[2]
        if form == "pdf" and count > MOST_PRINTED:
            return self._not_printed(TOO_LONG % {"most": f"{MOST_PRINTED:,}"}, back=back)
        if form == "pdf" and on_paper is not None:
            places = list(on_paper)
            header, rows = [header[at] for at in places], ([row[at] for at in places] for row in rows)
        if count > MOST_AT_ONCE.get(form, count) and is_for_worker(self.request):
            return do_later(self.request, title=title, permission=self.permission_required)
        rows = counted(rows, total=count)
        try:
            answer = sheet_response(name=name, title=title, header=header, rows=rows, under=under)
        except PdfError:
            return self._not_printed(_("The list could not be laid out. Please take it as a spreadsheet."), back=back)
        self.note_export(what, form=form, rows=count, schools=schools)
        return answer

    def _not_printed(self, why: str, *, back: str) -> HttpResponse:
        messages.error(self.request, why)
        return redirect(back)


class FormView(StaffView, is_base=True):
    """A page that is one form: it is handed to a service, and what is refused stays typed.

    A page names its template, the row its address is about, its form, and what saving does. Whatever else the template
    shows comes from ``context``.
    """

    template_name: str
    row_name = "row"  # what the template calls the row
    form_class: type[forms.BaseForm] = forms.Form
    refused_field: str | None = None  # the field that a refusal belongs to; None: the form as a whole

    def row(self, **lookup: Any) -> Any:
        """Return what the page is about, or raise 404; None where the address names no row."""
        return None

    def form(self, row: Any, data: Any = None) -> forms.BaseForm:
        """Return the form; without ``data`` as it is shown first."""
        return self.form_class(data, None if data is None else self.request.FILES)

    def save(self, row: Any, form: Any) -> str:
        """Call the service and return the address to go on to; RefusedError goes onto the form."""
        raise NotImplementedError

    def context(self, row: Any, form: Any) -> dict[str, Any]:
        return {}

    def shown(self, row: Any, form: forms.BaseForm, *, status: int = 200) -> HttpResponse:
        context = {self.row_name: row, "form": form, **self.context(row, form)}
        return render(self.request, self.template_name, context, status=status)

    def get(self, request: StaffRequest, **lookup: Any) -> HttpResponseBase:
        row = self.row(**lookup)
        return self.shown(row, self.form(row))

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        form = self.form(row, request.POST)
        if form.is_valid():
            try:
                return HttpResponseRedirect(self.save(row, form))
            except RefusedError as error:
                form.add_error(self.refused_field, str(error))
        return self.shown(row, form, status=422)

    def actor_and_time(self) -> dict[str, Any]:
        """Return who acts and when, as every service asks."""
        return {"actor": self.request.user, "at": timezone.now()}

    def done(self, message: str, page: str, *args: Any) -> str:
        """Say what was done, on the page that comes next."""
        messages.success(self.request, message)
        return reverse(page, args=args)


def acts_allowed(user: User, acts: Iterable[tuple[Any, Any, str]]) -> list[dict[str, Any]]:
    """Return, of (label, address, permission), what the user may do somewhere, as a bar or strip shows it."""
    return [{"label": label, "url": url} for label, url, permission in acts if user.has_perm(permission)]


def page_above(path: str) -> str:
    """Return the nearest address above this one that is a page, or "": /bench/7/ for /bench/7/do/."""
    parts = path.strip("/").split("/")
    for count in range(len(parts) - 1, 0, -1):
        above = f"/{'/'.join(parts[:count])}/"
        try:
            view = getattr(resolve(above).func, "view_class", None)
        except Resolver404:
            continue
        if view is not None and hasattr(view, "get"):
            return above
    return ""


def row_or_404(rows: models.QuerySet[Row], **lookup: Any) -> Row:
    """Return one of the rows the user may see, or 404: to them, another school's row does not exist."""
    try:
        return rows.get(**lookup)
    except (ObjectDoesNotExist, ValueError, OverflowError):
        raise Http404(f"no such {rows.model._meta.verbose_name}") from None


def pdf_response(
    request: StaffRequest, draw: Callable[[], bytes], *, name: str, failed: str, back: HttpResponse
) -> HttpResponse:
    """Return the paper that ``draw`` lays out; if it cannot be, say so by ``failed`` on the page behind it."""
    try:
        return file_response(draw(), name=name)
    except PdfError:
        messages.error(request, failed)
        return back


def sheet_response(
    *, name: str, title: str, header: Sequence[Any], rows: Iterable[Sequence[OutValue]], under: str = ""
) -> HttpResponseBase:
    """Return a table as a download by what ``name`` ends with: CSV while it is sent, a workbook, or a PDF.

    On paper ``under`` says what the list was narrowed to. PdfError if it cannot be laid out.
    """
    words = [str(one) for one in header]
    if name.endswith(".pdf"):
        pdf = list_pdf(title=title, header=words, rows=rows, under=under, at=timezone.now())
        return file_response(pdf, name=name, is_download=True)
    if name.endswith(".csv"):
        return stream_response(stream_csv(header=words, rows=rows), name=name)
    book = SpooledTemporaryFile(max_size=IN_MEMORY)  # noqa: SIM115  # the answer closes it when it has been sent
    save_xlsx(book, title=title, header=words, rows=rows)
    book.seek(0)
    return FileResponse(book, as_attachment=True, filename=name, headers={"X-Content-Type-Options": "nosniff"})
