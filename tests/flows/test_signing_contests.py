"""Signed twice at once, by a link and on the screen: one signature stands."""

from __future__ import annotations

import hashlib
from functools import partial

import pytest
from django.utils import timezone

from desk.services.signing import sign_by_link, sign_lent
from loans.models import Agreement
from loans.pdf.signing_links import agreement_text
from loans.selectors.signing_links import link_of
from loans.services import Signing
from tests.contests import at_once, went_well
from tests.loans.makers import ink, make_signing_link
from tests.opening import differences

pytestmark = pytest.mark.django_db(transaction=True)


def test_signed_by_a_link_and_on_the_screen_at_once_it_is_signed_once():
    link, token = make_signing_link()
    seen = hashlib.sha256(agreement_text(link_of(token), token=token)).hexdigest()
    asked = {"link": link, "token": token, "seen": seen, "signer": "Gale Guardian", "actor": None}
    by_link = partial(sign_by_link, at=timezone.now(), **asked)
    ways = Signing(signed="screen", student_signature=ink(), guardian_signature=ink(), guardian_signer="Gale Guardian")
    on_screen = partial(sign_lent, loan=link.loan, signing=ways, actor=link.actor, at=timezone.now())
    assert len(went_well(at_once(by_link, by_link, on_screen))) == 1
    assert Agreement.objects.count() == 1
    assert differences()[1] == []
