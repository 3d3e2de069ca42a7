"""The pages by which a loan is undone, given to the right student, or gets another date."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import unescape

import pytest
from django.urls import reverse
from django.utils import timezone

from loans.models import Loan
from tests.factories import TODAY, make_director, make_student
from tests.loans.makers import make_loan

NEXT = (TODAY + timedelta(days=700)).isoformat()


@pytest.fixture
def loan(db) -> Loan:
    return make_loan()


@pytest.fixture
def desk(client, loan):
    client.force_login(make_director(loan.school))
    return client


def test_the_loans_page_leads_to_both(desk, loan):
    page = desk.get(reverse("loans:loan", args=[loan.pk])).content.decode()
    assert reverse("loans:undo", args=[loan.pk]) in page
    assert reverse("loans:due", args=[loan.pk]) in page


def test_undone_it_says_so_and_offers_neither(desk, loan):
    answer = desk.post(reverse("loans:undo", args=[loan.pk]), {"what": "stayed"}, follow=True)
    page = answer.content.decode()
    assert "it counts as never lent" in page
    assert reverse("loans:undo", args=[loan.pk]) not in page
    assert "Signature pending" not in page
    sign = reverse("desk:sign", args=[loan.pk])
    assert sign not in page
    assert desk.get(sign).url == reverse("loans:loan", args=[loan.pk])
    assert "already closed" in desk.get(reverse("loans:undo", args=[loan.pk])).content.decode()


def test_another_student_is_asked_for_by_name(desk, loan):
    address = reverse("loans:undo", args=[loan.pk])
    assert re.search(r'class="hangs right-student">\s*<div class="field[^>]*>\s*<label', desk.get(address).text)
    assert "Choose the student who has it" in desk.post(address, {"what": "other"}).content.decode()
    right = make_student(school=loan.school)
    answer = desk.post(address, {"what": "other", "student": right.pk}, follow=True)
    assert right.name in answer.content.decode()
    assert Loan.objects.open().get().student == right


def test_one_date_and_the_chosen_of_a_day(desk, loan):
    eighth = make_loan(school=loan.school, student=make_student(school=loan.school, grade="8"))
    other = make_loan()  # another school's, due the same day
    days = reverse("loans:due-dates")
    assert "2 out" in desk.get(days).text
    day = f"{days}?due={loan.due_on}"
    assert set(desk.get(day).context["form"]["loans"].value()) == {eighth.pk, loan.pk}, "all of them"
    assert list(desk.get(f"{day}&grade=8").context["form"].fields["loans"].queryset) == [eighth]
    for wrong in ({}, {"loans": [other.pk]}):
        assert desk.post(day, {"due_on": NEXT} | wrong).status_code == 422
    desk.post(day, {"loans": [eighth.pk], "due_on": NEXT})
    assert list(Loan.objects.filter(due_on=NEXT)) == [eighth]
    desk.post(reverse("loans:due", args=[loan.pk]), {"due_on": NEXT})
    assert Loan.objects.filter(due_on=NEXT).count() == 2
    assert Loan.objects.get(pk=other.pk).due_on == other.due_on
    assert "in the past" in desk.post(reverse("loans:due", args=[loan.pk]), {"due_on": "2020-01-01"}).content.decode()


def test_none_is_checked_at_first_where_few_of_many_are_meant(desk, loan):
    make_loan(school=loan.school)
    day = f"{reverse('loans:due-dates')}?due={loan.due_on}"
    assert f"?due={loan.due_on}&grade=&none=1" in unescape(desk.get(day).text)
    page = desk.get(f"{day}&none=1")
    assert page.context["form"]["loans"].value() == []
    assert "Check all of these" in page.text


@pytest.mark.parametrize(
    "days",  # the school year ends on a day in late May (the figures' default), on a school day
    [
        (date(2026, 11, 30), date(2026, 12, 18), date(2027, 5, 28)),  # lent for a term: till the end of the year
        (date(2026, 11, 30), date(2027, 5, 28), date(2028, 5, 29)),  # lent for the year: the next one
        (date(2027, 3, 1), date(2026, 12, 18), date(2027, 5, 28)),  # overdue
    ],
)
def test_a_renewal_is_proposed_until_after_the_term_that_it_follows(desk, loan, days, monkeypatch):
    today, due, proposed = days
    Loan.objects.filter(pk=loan.pk).update(lent_on=date(2026, 9, 1), due_on=due)
    monkeypatch.setattr(timezone, "localdate", lambda *_: today)
    form = desk.get(reverse("loans:renew", args=[loan.pk])).context["form"]
    assert form["due_on"].value() == proposed


def test_renewed_it_leads_to_the_loan_to_be_signed(desk, loan):
    address = reverse("loans:renew", args=[loan.pk])
    assert address in desk.get(reverse("loans:loan", args=[loan.pk])).text
    page = desk.get(address)
    sent = {"nonce": page.context["form"]["nonce"].value()}
    assert desk.post(address, sent | {"due_on": "2020-01-01"}).status_code == 422
    answer = desk.post(address, sent | {"due_on": NEXT}, follow=True)
    new = Loan.objects.open().get()
    assert new.due_on.isoformat() == NEXT
    assert answer.redirect_chain[-1][0] == reverse("loans:loan", args=[new.pk])
    assert "Signature pending" in answer.text
    mistake = reverse("loans:undo", args=[new.pk])
    page = desk.get(mistake)
    assert "Renewed by mistake" in page.text
    assert not page.context["form"].fields
    back = desk.post(mistake, {}, follow=True)
    assert back.redirect_chain[-1][0] == reverse("loans:loan", args=[loan.pk])
    assert Loan.objects.open().get() == loan
    assert "already closed" in desk.post(mistake, {}).text
    undone = desk.get(reverse("loans:loan", args=[new.pk])).text
    assert "counts as never lent" not in undone
    assert "Signature pending" not in undone
    assert reverse("desk:sign", args=[new.pk]) not in undone
    assert f'<a href="{reverse("loans:loan", args=[loan.pk])}">the earlier loan</a> continues' in undone
