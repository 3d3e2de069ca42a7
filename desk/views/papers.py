"""Papers to sign: printed for a student or a class, and taken in again by the code on them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from functools import partial
from hashlib import sha256
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext, ngettext

from core.keys import key_of
from core.pdf import PdfError
from core.pdf_pages import parts_of
from core.photos import CleanScan, PhotoRefusedError
from core.qr import texts_in
from core.responses import file_response, home_url
from core.views import FormView, StaffRequest, StaffView, do_later, is_for_worker, made_once, row_or_404
from desk.services.signing import take_in_paper
from inventory.exceptions import RefusedError
from loans.forms.papers import MOST_PAPERS, PapersInForm, PrintToSignForm
from loans.models import ClassPeriod, PaperToSign, PaperToSignQuerySet, Student
from loans.pdf.to_sign import papers_to_sign_pdf
from loans.rules.codes import code_in
from loans.selectors.seats import seats_in
from loans.services.to_sign import print_papers

LEND = "loans.lend_instrument"
PDF: Final = "application/pdf"
MOST_AT_ONCE = 20  # papers that are laid out while one waits: some five seconds


class PrintToSignView(FormView):
    """Choose whom to print for: a class (``period``), or one student with the instrument named or left open."""

    permission_required = LEND
    template_name = "desk/print_to_sign.html"
    row_name = "period"

    def row(self, **lookup: Any) -> ClassPeriod | None:
        key = self.request.GET.get("period", "")
        return row_or_404(ClassPeriod.objects.visible_to(self.request.user, LEND), pk=key) if key else None

    def students(self, period: ClassPeriod | None) -> Any:
        rows = Student.objects.visible_to(self.request.user, LEND).current()
        if period is not None:
            return rows.filter(pk__in=seats_in(period).values("student"))
        key = key_of(self.request.GET.get("student", ""))
        return rows.filter(pk=key) if key else rows.none()

    def form(self, row: ClassPeriod | None, data: Any = None) -> PrintToSignForm:
        return PrintToSignForm(data, students=self.students(row), user=self.request.user)

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        form = self.form(row, request.POST)
        if form.is_valid():
            students = list(form.cleaned_data["students"].select_related("school").prefetch_related("guardians"))
            schools = {one.school_id for one in students}
            if len(students) > MOST_AT_ONCE and is_for_worker(request):
                title = gettext("Agreements to sign")
                return do_later(request, title=title, permission=self.permission_required)
            try:
                issue = partial(print_papers, students=students, instrument=form.cleaned_data["instrument"])
                papers = made_once(
                    request,
                    partial(issue, **self.actor_and_time()),
                    rows=PaperToSign.objects.visible_to(request.user, LEND).to_print(),
                )
                pdf = papers_to_sign_pdf(papers, home=home_url(request))
                self.note_export("papers to sign", form="pdf", rows=len(papers), schools=schools)
                return file_response(pdf, name="to-sign.pdf")
            except RefusedError as error:
                form.add_error(None, str(error))
            except PdfError:
                form.add_error(None, gettext("The PDF could not be made. Please contact support."))
        return self.shown(row, form, status=422)


class PaperView(StaffView):
    """Where the code on a paper leads: whose it is, whether it came back, and the place to add it."""

    permission_required = LEND

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        paper = row_or_404(papers_of(request), code=code_in(code))
        return render(
            request,
            "desk/paper_to_sign.html",
            {"paper": paper, "form": PapersInForm(initial={"code": paper.shown_code})},
        )


def papers_of(request: StaffRequest) -> PaperToSignQuerySet:
    return PaperToSign.objects.visible_to(request.user, LEND).select_related("student__school", "terms", "loan")


class PapersInView(FormView):
    """Take in photos or scans of signed papers, many at once; the code on each says which it is."""

    uploads = MOST_PAPERS
    permission_required = LEND
    template_name = "desk/papers_in.html"
    form_class = PapersInForm

    def save(self, row: None, form: PapersInForm) -> str:
        signed, kept, refused = 0, 0, []
        papers: list[tuple[str, Collection[str], CleanScan]] = []
        for name, scan in form.cleaned_data["scans"]:
            try:
                papers += papers_in(name, scan, typed=form.cleaned_data["code"])
            except PhotoRefusedError as error:
                refused.append(f"{name}: {error}")
        for name, found, scan in papers:
            try:
                paper = self.paper(found)
                if take_in_paper(paper=paper, scan=scan, **self.actor_and_time()) is None:
                    kept += 1
                else:
                    signed += 1
            except RefusedError as error:
                refused.append(f"{name}: {error}")
        if signed:
            words = ngettext("%(n)d loan is signed for.", "%(n)d loans are signed for.", signed)
            messages.success(self.request, words % {"n": signed})
        if kept:
            words = ngettext(
                "%(n)d paper is kept until its student borrows.",
                "%(n)d papers are kept until their students borrow.",
                kept,
            )
            messages.success(self.request, words % {"n": kept})
        for line in refused:
            messages.error(self.request, line)
        return reverse("desk:papers-in")

    def paper(self, codes: Collection[str]) -> PaperToSign:
        """Return the paper of the one code that was found, or refuse in words."""
        if len(codes) > 1:
            raise RefusedError(gettext("More than one paper is on it. Take a photo of each."))
        if not codes:
            raise RefusedError(gettext("No code could be read. Send it by itself and type the code on it."))
        paper = papers_of(self.request).filter(code=next(iter(codes))).first()
        if paper is None:
            raise RefusedError(gettext("No paper from your schools has this code."))
        return paper


def papers_in(name: str, scan: CleanScan, *, typed: str = "") -> Iterator[tuple[str, Collection[str], CleanScan]]:
    """Yield a file paper by paper: its name, the codes on it, its scan. A PDF is parted by the codes on its pages."""
    if typed:
        yield name, {typed}, scan
    elif scan.kind != PDF:
        yield name, {code for text in texts_in(scan.content) if (code := code_in(text))}, scan
    else:
        parts = parts_of(scan.content, code_in=code_in)
        for part in parts:
            values = {"name": name, "first": part.first, "last": part.last}
            if len(parts) == 1:
                where = name
            elif part.last == part.first:
                where = gettext("%(name)s, page %(first)d") % values
            else:
                where = gettext("%(name)s, pages %(first)d to %(last)d") % values
            yield where, part.codes, CleanScan(part.content, PDF, sha256(part.content).hexdigest())
