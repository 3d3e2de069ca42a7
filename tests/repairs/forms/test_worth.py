"""Forms of decisions about an instrument."""

from __future__ import annotations

import pytest

from repairs.forms.worth import DecideForm, SettleForm
from repairs.models import Bench
from tests.factories import new_nonce

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("answer", "is_valid"), [("retire", True), ("", False), ("sell_it", False)])
def test_an_answer_is_one_of_the_four(answer, is_valid):
    form = DecideForm({"answer": answer, "nonce": new_nonce()}, benches=Bench.objects.none())
    assert form.is_valid() is is_valid


def test_a_reason_has_an_end():
    form = DecideForm({"answer": "retire", "nonce": new_nonce(), "because": "x" * 10_000}, benches=Bench.objects.none())
    assert list(form.errors) == ["because"]


@pytest.mark.parametrize(("answer", "is_valid"), [("yes", True), ("no", True), ("perhaps", False), ("", False)])
def test_settling_is_yes_or_no(answer, is_valid):
    assert SettleForm({"answer": answer}).is_valid() is is_valid
