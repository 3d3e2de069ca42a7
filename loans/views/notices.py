"""What families were told: what was sent, what waits to be printed, what came back."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from core.keys import keys_of
from core.views import StaffRequest, StaffView, row_or_404
from inventory.exceptions import RefusedError
from inventory.models import schools_of
from loans.models import Notice, NoticeQuerySet
from loans.pages.letters import letter_of
from loans.pages.notices import notice_lines
from loans.pdf.letter import letters_pdf
from loans.selectors.notices import still_true
from loans.services.notices import note_came_back, note_printed, undo_came_back

SEND = "loans.send_notice"
PER_PAGE = 40
MOST_LETTERS = 200  # in one PDF
PRINT, MAIL, BACK, SENT = "print", "mail", "back", "sent"
STATES = {
    PRINT: gettext_lazy("To print"),
    MAIL: gettext_lazy("E-mail waiting"),
    BACK: gettext_lazy("Came back"),
    SENT: gettext_lazy("Sent"),
}


def notices_of(request: StaffRequest) -> NoticeQuerySet:
    return Notice.objects.visible_to(request.user, SEND).for_saying()


def in_state(rows: NoticeQuerySet, state: str) -> Any:
    if state == PRINT:
        return (
            rows.to_print()
            .filter(still_true(today=timezone.localdate()))
            .order_by("loan__school", "loan__student__sort_name", "pk")
        )
    if state == MAIL:
        return rows.to_mail().order_by("pk")
    if state == BACK:
        return rows.exclude(came_back_at=None).order_by("-came_back_at", "-pk")
    return rows.exclude(handed_at=None).filter(came_back_at=None).order_by("-handed_at", "-pk")


class NoticesView(StaffView):
    """One state at a time; without one asked for, the letters to print, or what was sent where there are none."""

    permission_required = SEND

    def get(self, request: StaffRequest) -> HttpResponse:
        rows, numbers = notices_of(request), request.GET.getlist("number")  # those selected in the list of loans
        if numbers:
            rows = rows.filter(loan__instrument__asset_number__in=numbers)
        counts = {state: in_state(rows, state).count() for state in STATES}
        wanted = request.GET.get("state", "")
        state = wanted if wanted in STATES else PRINT if counts[PRINT] else SENT
        found = in_state(rows, state)
        page: Any = Paginator(found, MOST_LETTERS if state == PRINT else PER_PAGE).get_page(request.GET.get("page"))
        context = {
            "state": state,
            "chips": [
                {
                    "state": one,
                    "label": label,
                    "count": counts[one],
                    "query": urlencode({"state": one, "number": numbers}, doseq=True),
                }
                for one, label in STATES.items()
            ],
            "is_selected": bool(numbers),
            "page": page,
            "lines": notice_lines(page.object_list),
            "is_one_school": schools_of(request.user, SEND).count() < 2,
        }
        return render(request, "loans/notices.html", context)


class LettersBase(StaffView, is_base=True):
    """Letters as one PDF; taking them along is logged."""

    def letters(self, notices: NoticeQuerySet) -> HttpResponse:
        now = timezone.now()
        found = list(notices)
        if not found:
            messages.info(self.request, _("None of these letters is still waiting to be printed."))
            return redirect("loans:notices")
        return self.export_pdf(
            lambda: letters_pdf([letter_of(one, today=timezone.localdate(now)) for one in found], at=now),
            what="letters",
            rows=len(found),
            schools={one.loan.school_id for one in found},
            name="letters.pdf",
            failed=_("The letters could not be laid out. Please contact support."),
            back=redirect("loans:notices"),
        )


class LettersView(LettersBase):
    """The chosen letters as one PDF; posted, so that just those are noted as printed which are in it."""

    permission_required = SEND
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest) -> HttpResponse:
        return self.letters(in_state(chosen(request), PRINT))


class LettersPrintedView(StaffView):
    """Note that the chosen letters were printed."""

    permission_required = SEND
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest) -> HttpResponse:
        count = note_printed(notices=list(in_state(chosen(request), PRINT)), actor=request.user, at=timezone.now())
        words = ngettext("%(count)d letter is noted as printed.", "%(count)d letters are noted as printed.", count)
        messages.success(request, words % {"count": count})
        return redirect("loans:notices")


class LetterView(LettersBase):
    """One letter again."""

    permission_required = SEND

    def get(self, request: StaffRequest, pk: int) -> HttpResponse:
        rows = notices_of(request).filter(way=Notice.Way.LETTER, dropped_at=None)
        return self.letters(rows.filter(pk=row_or_404(rows, pk=pk).pk))


class CameBackView(StaffView):
    """Note that a notice did not arrive; e-mail is followed by a letter."""

    permission_required = SEND
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        notice = row_or_404(notices_of(request), pk=pk)
        try:
            letter = note_came_back(notice=notice, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            message = (
                _("Noted. A letter is waiting to be printed instead.") if letter else _("Noted that it came back.")
            )
            messages.success(request, message)
        return redirect("loans:notices")


class UndoCameBackView(StaffView):
    """Take back that a notice came back."""

    permission_required = SEND
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int) -> HttpResponse:
        notice = row_or_404(notices_of(request), pk=pk)
        try:
            letter = undo_came_back(notice=notice, actor=request.user, at=timezone.now())
        except RefusedError as error:
            messages.error(request, str(error))
        else:
            done = _("Undone. The letter in its place is not printed.") if letter else _("Undone: it arrived.")
            messages.success(request, done)
        return redirect(f"{reverse('loans:notices')}?state={BACK}")


def chosen(request: StaffRequest) -> NoticeQuerySet:
    keys = keys_of(request.POST.getlist("notice"))[:MOST_LETTERS]
    return notices_of(request).filter(pk__in=keys)
