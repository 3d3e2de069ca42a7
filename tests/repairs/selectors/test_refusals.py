"""A refusal in words."""

from __future__ import annotations

import pytest

from repairs.selectors.refusals import refusal_text, refusal_title, refusal_words
from tests.repairs.money_makers import make_refusal

pytestmark = pytest.mark.django_db


def test_it_says_what_who_when_and_why_and_who_had_asked():
    refused = make_refusal(because="It is the only one.")
    words = refusal_words(refused)
    assert words.startswith("Not approved: repair here for up to $180. ")
    assert f"{refused.settled_by} on Sep 14: Buy one." in words
    assert words.endswith(f"Asked by {refused.decided_by} on Sep 14: It is the only one.")


def test_an_instrument_to_be_given_up_has_no_cost_and_no_reason_is_left_out():
    assert refusal_title(make_refusal("retire")) == "Not approved: retire"
    assert refusal_text(make_refusal()).endswith("on Sep 14.")
