"""What should come back by a day, class by class; what is missing after it, and letters for that."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext

from core.views import StaffRequest, StaffView, pdf_response
from loans.models import Notice
from loans.pages.letters import letter_of
from loans.pdf.letter import letters_pdf
from loans.selectors.giving_back import by_class, due_days, expected_back
from loans.selectors.notices import guardian_to_tell

MOST_LETTERS = 200


class ExpectedView(StaffView):
    """The list of give-back (``?due=`` by another day, ``?out=1`` what is missing alone)."""

    permission_required = "desk.take_back"

    def get(self, request: StaffRequest) -> HttpResponse:
        today = timezone.localdate()
        days = due_days(request.user, today=today)
        due_on = due_asked(request.GET.get("due", ""), days=days, today=today)
        lists = by_class(expected_back(request.user, due_on=due_on, today=today))
        missing = [loan for one in lists for loan in one.loans if loan.returned_at is None]
        is_out_only = "out" in request.GET
        context: dict[str, Any] = {
            "due_on": due_on,
            "days": days,
            "lists": [
                {"of": one, "loans": [loan for loan in one.loans if not is_out_only or loan.returned_at is None]}
                for one in lists
            ],
            "back": sum(one.back for one in lists),
            "total": sum(len(one.loans) for one in lists),
            "is_out_only": is_out_only,
            "late": sum(loan.due_on < today for loan in missing),
            "today": today,
        }
        return render(request, "desk/expected_back.html", context)


def due_asked(text: str, *, days: list[tuple[date, int]], today: date) -> date:
    """Return the day that the address names, else the one on which most is due."""
    try:
        asked = parse_date(text)
    except ValueError:
        asked = None
    return asked or (days[0][0] if days else today)


class MissingLettersView(StaffView):
    """A letter to each family whose instrument is missing after its day, class by class, as one PDF.

    It says what a reminder says, and is none: nothing is kept of it but that it was taken along.
    """

    permission_required = "desk.take_back"
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest) -> HttpResponse:
        now = timezone.now()
        today = timezone.localdate(now)
        due_on = due_asked(request.POST.get("due", ""), days=due_days(request.user, today=today), today=today)
        rows = expected_back(request.user, due_on=due_on, today=today).overdue(today=today)
        loans = [loan for one in by_class(rows.prefetch_related("student__guardians")) for loan in one.loans][
            :MOST_LETTERS
        ]
        back = redirect(f"{reverse('desk:expected-back')}?due={due_on.isoformat()}&out=1")
        if not loans:
            return back
        notices = [
            Notice(loan=loan, guardian=guardian_to_tell(loan), sort=Notice.Sort.OVERDUE, about_on=loan.due_on)
            for loan in loans
        ]
        answer = pdf_response(
            request,
            lambda: letters_pdf([letter_of(notice, today=today) for notice in notices], at=now),
            name="letters.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=back,
        )
        if answer is not back:
            self.note_export("letters", form="pdf", rows=len(loans), schools={loan.school_id for loan in loans})
        return answer
