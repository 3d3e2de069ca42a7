"""What the database refuses of notices."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from loans.models import Notice
from tests.factories import NOW, TODAY
from tests.loans.makers import make_loan


@pytest.mark.django_db
def test_the_same_thing_is_not_told_twice_but_for_mail_that_came_back_or_what_was_left_unsent():
    loan = make_loan()
    same = {"loan": loan, "sort": "overdue", "about_on": TODAY, "made_at": NOW}
    Notice.objects.create(**same, way="email", came_back_at=NOW)
    Notice.objects.create(**same, way="letter", dropped_at=NOW)
    Notice.objects.create(**same, way="letter", came_back_at=NOW)
    for way in ("email", "letter"):
        with pytest.raises(IntegrityError), transaction.atomic():
            Notice.objects.create(**same, way=way)
    with pytest.raises(IntegrityError), transaction.atomic():
        Notice.objects.create(**same | {"sort": "report"}, way="letter")
    assert str(Notice(pk=7)) == "notice 7"
