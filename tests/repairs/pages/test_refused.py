"""A refusal on top of the pages, and the step it stops."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from repairs.pages.refused import refusal_notice, stopped_card
from tests.repairs.makers import make_job
from tests.repairs.money_makers import make_refusal

pytestmark = pytest.mark.django_db


def test_only_who_asked_is_asked_to_read_it():
    refused = make_refusal()
    assert refusal_notice(refused, reader=refused.decided_by)["is_unread"]
    assert not refusal_notice(refused, reader=refused.settled_by)["is_unread"]


def test_a_step_that_is_stopped_already_or_none_stays_as_it_is(school):
    job, refused = make_job(school=school), make_refusal()
    assert stopped_card(None, job=job, refused=refused) is None
    card = SimpleNamespace(refusal="Not yet")
    assert stopped_card(card, job=job, refused=refused) is card
