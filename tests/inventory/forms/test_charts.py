"""Confirming a chart."""

from __future__ import annotations

from inventory.forms.charts import ConfirmChartForm


def test_it_carries_the_chart_that_was_read_and_a_key_of_its_own():
    form = ConfirmChartForm({"digest": "abc"})
    assert form.is_valid()
    assert form.cleaned_data["digest"] == "abc"
    assert form.cleaned_data["nonce"] != ConfirmChartForm()["nonce"].value()
    assert ConfirmChartForm({}).is_valid()  # the service refuses it in words
