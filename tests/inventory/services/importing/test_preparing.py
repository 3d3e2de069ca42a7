"""Judged rows as unsaved instruments."""

from __future__ import annotations

import pytest

from inventory.exceptions import ImportRefusedError
from inventory.services.importing.preparing import columns_when_new, judgement_of_row, prepare
from tests.factories import NOW, TODAY

VALUES = {"kind": "tuba", "school": "ELM", "maker": "Plain", "condition": "fair", "size": "3/4", "cost_amount": "12.50"}


def test_a_row_becomes_an_instrument_that_could_be_saved(school):
    rows = iter([judgement_of_row(number=2, values=VALUES, fingerprint="abc:1")])
    (one,) = prepare(rows=rows, schools={"ELM": school}, at=NOW, today=TODAY)
    one.instrument.asset_number = "X-1"
    one.instrument.full_clean()
    assert (one.row, one.instrument.fingerprint, one.received_on) == (2, "abc:1", TODAY)
    assert "Condition in the list: fair" in one.instrument.notes
    assert str(one.instrument.acquisition_cost_amount) == "12.50"


@pytest.mark.parametrize(
    ("change", "words"), [({"kind": "no_such"}, "left the catalog"), ({"school": "ZZ"}, "may not")]
)
def test_a_kind_or_school_that_is_gone_refuses(school, change, words):
    rows = iter([judgement_of_row(number=2, values=VALUES | change, fingerprint="")])
    with pytest.raises(ImportRefusedError, match=words):
        list(prepare(rows=rows, schools={"ELM": school}, at=NOW, today=TODAY))


def test_an_instrument_nobody_inspected_stays_in():
    columns = columns_when_new(kind_code="trumpet", options=())
    assert (columns["verdict"], columns["readiness"]) == ("not_inspected", "stays_in")
    assert [reason["code"] for reason in columns["readiness_reasons"]] == ["not_inspected"]
