"""The form of a case asks for the steps of its sort."""

from __future__ import annotations

from loans.forms.losses import EndLossForm, LossForm, ReportLossForm
from loans.models import Loss
from tests.factories import TODAY


def test_a_lost_one_is_not_asked_for_the_police():
    lost = LossForm(loss=Loss(sort="lost"))
    assert "police_number" not in lost.fields
    assert [field.name for field in lost.steps_shown()] == ["step_search", "step_family", "step_office", "step_schools"]
    stolen = LossForm({"step_police": TODAY.isoformat(), "police_number": "26-1"}, loss=Loss(sort="stolen"))
    assert stolen.is_valid()
    assert (stolen.steps, stolen.typed["police_number"]) == ({"police": TODAY}, "26-1")


def test_what_was_given_up_can_only_be_found():
    assert [code for code, _ in EndLossForm(loss=Loss(outcome="given_up")).fields["outcome"].choices] == ["found"]
    assert not ReportLossForm({"sort": "mislaid", "noticed_on": TODAY}).is_valid()
