"""Links are made, opened, denied and revoked; each refusal writes nothing."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest

from loans.exceptions import AgreementRefusedError, OpenedTooOftenError
from loans.models import Guardian, SigningLink
from loans.selectors.signing_links import Standing, link_of, standing_of
from loans.services.signing_links import (
    OPENINGS_PER_HOUR,
    deny_link,
    give_up_mailing,
    keep_mailed_link,
    make_link,
    new_token,
    open_link,
    revoke_link,
)
from tests.factories import NOW, make_student
from tests.loans import makers
from tests.loans.makers import make_agreement, make_loan, make_signing_link

LATER = NOW + timedelta(hours=1)
refused = partial(makers.refused, make_link, AgreementRefusedError)


def test_a_new_link_replaces_the_one_the_guardian_had(db):
    loan = make_loan()
    first, _ = make_signing_link(loan, at=NOW)
    second, _ = make_signing_link(loan, at=LATER)
    first.refresh_from_db()
    assert (first.ended, first.ended_at) == ("replaced", LATER)
    assert not second.ended


def test_a_link_goes_to_a_guardian_of_the_student_for_what_is_to_be_signed(director, school):
    loan, other = make_loan(school=school), make_student(school=school)
    common = {"loan": loan, "actor": director, "at": NOW}
    own = loan.student.guardian
    assert "not a guardian" in refused(guardian=other.guardian, token=new_token(), **common)
    assert "no e-mail address" in refused(guardian=own, token="", **common)
    make_agreement(loan)
    assert "nothing to sign" in refused(guardian=own, token=new_token(), **common)


def test_a_letter_makes_it_good_or_ends_it(db):
    loan = make_loan()
    Guardian.objects.update(email="gale@home.example")
    link, _ = make_signing_link(loan, token="", at=NOW)
    token = new_token()
    keep_mailed_link(link=link, token=token, actor=None, at=LATER)
    assert standing_of(link_of(token), at=LATER) is Standing.SENT
    link, _ = make_signing_link(loan, token="", at=LATER)
    give_up_mailing(link=link, actor=None, at=LATER)
    assert SigningLink.objects.get(pk=link.pk).ended == "unsent"


def test_it_is_opened_so_often_in_an_hour(db):
    link, _ = make_signing_link(make_loan(), at=NOW)
    for _ in range(OPENINGS_PER_HOUR):
        open_link(link=link, actor=None, at=NOW)
    makers.refused(open_link, OpenedTooOftenError, link=link, actor=None, at=NOW + timedelta(minutes=59))
    open_link(link=link, actor=None, at=LATER)


def test_denied_it_waits_for_the_staff_until_another_one_is_made(db):
    loan = make_loan()
    link, _ = make_signing_link(loan, at=NOW)
    deny_link(link=link, actor=None, at=LATER)
    assert list(SigningLink.objects.denied()) == [link]
    makers.refused(deny_link, AgreementRefusedError, link=link, actor=None, at=LATER)
    make_signing_link(loan, at=LATER)
    assert not SigningLink.objects.denied().exists()


@pytest.mark.parametrize("times", [1, 2])
def test_revoked_once_or_twice_it_ends_once(db, times):
    link, _ = make_signing_link(make_loan(), at=NOW)
    for hours in range(times):
        revoke_link(link=link, actor=link.actor, at=NOW + timedelta(hours=hours))
    link.refresh_from_db()
    assert (link.ended, link.ended_at) == ("revoked", NOW)
