"""A station of a hand-out day on a phone, counted as a person would: a tap a second, a typed character 0.3 s."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from loans.models import Loan
from loans.services import lock_assignment
from tests.factories import make_ready_instrument, make_student
from tests.loans.makers import make_assignment, make_seat


@pytest.fixture
def assigned(transactional_db, school, director):
    """Twenty who are to get a trumpet, Robin among them, and a flute that is nobody's."""
    yesterday = timezone.now() - timedelta(days=1)
    for number in range(19):
        make_seat(student=make_student(school=school, name=f"Player {number:02d}"), kind_code="trumpet", at=yesterday)
    make_seat(student=make_student(school=school, name="Robin Reed"), kind_code="trumpet", at=yesterday)
    make_student(school=school, name="Quinn Flores")
    for _ in range(20):
        make_ready_instrument(school=school, at=yesterday)
    make_ready_instrument(school=school, at=yesterday, kind_code="flute", asset_number="FL-0019")
    assignment = make_assignment(school=school, at=yesterday)
    lock_assignment(assignment=assignment, seen=assignment.revision, replaces=None, actor=director, at=yesterday)
    return assignment


@pytest.mark.counted
@pytest.mark.parametrize(
    "case", [("Robin Reed", "", 8.0), ("Quinn Flores", "fl19", 15.0)], ids=["assigned", "not assigned"]
)
def test_hand_out_to_one_student(assigned, director, open_page, counted_hand, case):
    name, number, most_seconds = case
    page = open_page(user=director)
    page.goto(reverse("desk:hand-out"))
    hand = counted_hand(page)
    hand.type(name[:3].lower())
    last_first = ", ".join(reversed(name.split()))
    hand.wait(page.get_by_role("link", name=last_first).wait_for)
    hand.go(page.get_by_role("link", name=last_first))
    if number:
        hand.type(number)
        hand.go("Go")
    hand.go(page.get_by_role("button", name=re.compile("^Hand out ")))
    hand.wait(page.get_by_text(f"is with {name}.").wait_for)
    assert Loan.objects.get().student.name == name
    assert page.evaluate("document.activeElement.id") == "station", "ready for the next"
    assert hand.counted_seconds < most_seconds, hand
