"""What should come back by a day, class by class; what is missing after it, and letters for that."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.days import day_of
from core.views import StaffRequest, StaffView
from loans.models import Notice
from loans.pages.letters import letter_of
from loans.pages.notices import notice_words
from loans.pdf.letter import letters_pdf
from loans.selectors.giving_back import by_class, due_days, expected_back
from loans.selectors.notices import overdue_notices
from loans.services.notices import make_overdue_letters, note_printed

MOST_LETTERS = 200


class ExpectedView(StaffView):
    """The list of give-back (``?due=`` by another day, ``?out=1`` what is missing alone)."""

    permission_required = "desk.take_back"

    def get(self, request: StaffRequest) -> HttpResponse:
        today = timezone.localdate()
        days = due_days(request.user, today=today)
        due_on = due_chosen(request.GET.get("due", ""), days=days, today=today)
        lists = by_class(expected_back(request.user, due_on=due_on, today=today))
        late = [loan for one in lists for loan in one.loans if loan.returned_at is None and loan.due_on < today]
        notices = overdue_notices(late)
        is_out_only = "out" in request.GET
        words = {key: notice_words(notice) for key, notice in notices.items()}
        context: dict[str, Any] = {
            "due_on": due_on,
            "days": days,
            "lists": [
                {
                    "of": one,
                    "rows": [
                        {"loan": loan, "notice": words.get(loan.pk, "")}
                        for loan in one.loans
                        if not is_out_only or loan.returned_at is None
                    ],
                }
                for one in lists
            ],
            "back": sum(one.back for one in lists),
            "total": sum(len(one.loans) for one in lists),
            "is_out_only": is_out_only,
            "letters": min(len(late) - len(by_mail(notices)), MOST_LETTERS),
            "today": today,
        }
        return render(request, "desk/expected_back.html", context)


def due_chosen(text: str, *, days: list[tuple[date, int]], today: date) -> date:
    """Return the day that the address names, else the one on which most is due."""
    return day_of(text) or (days[0][0] if days else today)


def by_mail(notices: dict[int, Notice]) -> set[int]:
    """Return the loans whose family was told by mail, or will be."""
    return {key for key, notice in notices.items() if notice.way == Notice.Way.EMAIL}


class MissingLettersView(StaffView):
    """A letter to each family whose instrument is missing after its day, class by class, as one PDF.

    Each is kept as a reminder, noted as printed: the family is not told again by the next one, nor here where mail has
    told it. Posted again, the same letters come out.
    """

    permission_required = "desk.take_back"
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest) -> HttpResponse:
        now = timezone.now()
        today = timezone.localdate(now)
        due_on = due_chosen(request.POST.get("due", ""), days=due_days(request.user, today=today), today=today)
        rows = expected_back(request.user, due_on=due_on, today=today).overdue(today=today)
        loans = [loan for one in by_class(rows) for loan in one.loans]
        sent = overdue_notices(loans)
        mailed = by_mail(sent)
        loans = [loan for loan in loans if loan.pk not in mailed]
        if len(loans) > MOST_LETTERS:
            loans.sort(key=lambda loan: loan.pk in sent and sent[loan.pk].handed_at is not None)  # the rest comes next
        loans = loans[:MOST_LETTERS]
        back = redirect(f"{reverse('desk:expected-back')}?due={due_on.isoformat()}&out=1")
        notices = make_overdue_letters(loans=loans, today=today, actor=request.user, at=now)
        if not notices:
            return back
        answer = self.export_pdf(
            lambda: letters_pdf([letter_of(notice, today=today) for notice in notices], at=now),
            what="letters",
            rows=len(notices),
            schools={notice.loan.school_id for notice in notices},
            name="letters.pdf",
            failed=gettext("The PDF could not be made. Please contact support."),
            back=back,
        )
        if answer is not back:
            note_printed(notices=notices, actor=request.user, at=now)
        return answer
